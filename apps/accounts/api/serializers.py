from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.accounts.models import Person, Token
from apps.common.units import Units
from apps.http.bodies import StrictBody
from apps.http.fields import CurrencyField
from apps.http.views import person_of


class PersonSerializer(serializers.ModelSerializer[Person]):
    """An account as its owner sees it."""

    units = serializers.ChoiceField(Units.choices)
    currency = serializers.SerializerMethodField()

    class Meta:
        model = Person
        fields = ("id", "version", "email", "name", "units", "currency", "created_at")

    @extend_schema_field(CurrencyField(allow_null=True))
    def get_currency(self, person: Person) -> str | None:
        return person.currency or None


class PersonRefSerializer(serializers.ModelSerializer[Person]):
    """A person as co-buyers see them: no email."""

    class Meta:
        model = Person
        fields = ("id", "name", "kind")


class SignInBody(StrictBody):
    email = serializers.EmailField()
    password = serializers.CharField(max_length=256, trim_whitespace=False)


class SessionSerializer(serializers.ModelSerializer[Token]):
    current = serializers.SerializerMethodField(help_text="whether this request came with it")

    class Meta:
        model = Token
        fields = ("id", "created_at", "expires_at", "last_used_at", "current")

    def get_current(self, token: Token) -> bool:
        via = person_of(self.context["request"]).via
        return via is not None and token.pk == via.id


class OpenedSessionSerializer(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    token = serializers.CharField(help_text="send it as `Authorization: Bearer TOKEN`; shown once")
    expires_at = serializers.DateTimeField()
    person = PersonSerializer()


class PasswordBody(StrictBody):
    present = serializers.CharField(
        max_length=256, trim_whitespace=False, help_text="confirms that it is you"
    )
    password = serializers.CharField(max_length=256, trim_whitespace=False, help_text="the new one")
    end_tokens = serializers.BooleanField(
        default=False, help_text="also end your scripts' tokens and programs' access"
    )


class AccountBody(StrictBody):
    name = serializers.CharField(max_length=120, required=False)
    units = serializers.ChoiceField(
        Units.choices, required=False, help_text="in which the pages show sizes"
    )
    currency = CurrencyField(
        allow_null=True,
        required=False,
        help_text="in which the pages show amounts too, where the list has a rate for it",
    )

    def validate_currency(self, code: str | None) -> str:
        return code or ""
