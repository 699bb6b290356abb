"""Serializers of tokens for scripts, and of programs that a member allowed."""

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.accounts.access import ClientKind
from apps.accounts.models import Program, ThroughClient, Token
from apps.accounts.scopes import CHOICES
from apps.http.bodies import StrictBody


class ScopesField(serializers.ListField):
    def __init__(self, **options: Any) -> None:
        super().__init__(child=serializers.ChoiceField(CHOICES), **options)


class TokenSerializer(serializers.ModelSerializer[Token]):
    scopes = ScopesField(allow_null=True, help_text="null: all that you may do")

    class Meta:
        model = Token
        fields: tuple[str, ...] = (
            "id",
            "name",
            "scopes",
            "created_at",
            "expires_at",
            "last_used_at",
        )


class NewTokenSerializer(TokenSerializer):
    token = serializers.CharField(
        allow_null=True,
        help_text="send it as `Authorization: Bearer TOKEN`; shown once: null in a repeat",
    )

    class Meta(TokenSerializer.Meta):
        fields = (*TokenSerializer.Meta.fields, "token")


class TokenBody(StrictBody):
    name = serializers.CharField(max_length=120, help_text="where it is used, in words")
    scopes = ScopesField(allow_null=True, help_text="what it may do; null: all that you may do")
    expires_at = serializers.DateTimeField(help_text="within a year")


class GrantSerializer(serializers.ModelSerializer[Program]):
    """A program that acts for you. The id is the program's."""

    scopes = serializers.SerializerMethodField(help_text="what it may do as you")
    granted_at = serializers.SerializerMethodField(help_text="or renewed, by the program")

    class Meta:
        model = Program
        fields = ("id", "name", "scopes", "granted_at")

    @extend_schema_field(ScopesField())
    def get_scopes(self, program: Program) -> list[str]:
        granted = {scope for token in program.tokens for scope in token.scope.split()}
        return sorted(granted.intersection(program.allowed_scopes))

    @extend_schema_field(serializers.DateTimeField())
    def get_granted_at(self, program: Program) -> Any:
        return max(token.created for token in program.tokens)


class ClientSerializer(serializers.Serializer[Any]):
    """The client that sent something: a sign-in, a person's own script, or another program."""

    kind = serializers.ChoiceField(ClientKind.choices)
    id = serializers.UUIDField(allow_null=True, help_text="of the program, if it was one")
    name = serializers.CharField(help_text="the program's at the time, if it was one")


@extend_schema_field(ClientSerializer(allow_null=True))
class ClientField(serializers.Field[Any, Any, dict[str, Any] | None, ThroughClient]):
    """The client that sent a `ThroughClient` record; null if unknown."""

    def __init__(self, **options: Any) -> None:
        super().__init__(source="*", read_only=True, **options)

    def to_representation(self, record: ThroughClient) -> dict[str, Any] | None:
        if not record.client_kind:
            return None
        return {
            "kind": record.client_kind,
            "id": record.client_id and str(record.client_id),
            "name": record.client_name,
        }
