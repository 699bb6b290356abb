from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.accounts.access import ClientKind
from apps.accounts.api.key_serializers import ScopesField
from apps.accounts.api.serializers import PersonRefSerializer
from apps.groups.models import GroupProgram, Membership
from apps.groups.programs import ROLES
from apps.http.bodies import StrictBody


class ProgramSerializer(serializers.ModelSerializer[GroupProgram]):
    kind = serializers.ChoiceField(ClientKind.choices, source="program.kind")
    program = serializers.UUIDField(
        source="program_id", help_text="the `id` of `client` where it posted"
    )
    name = serializers.CharField(source="program.name")
    role = serializers.ChoiceField(
        ROLES, allow_null=True, help_text="the program's own; null if it acts for members"
    )
    scopes = ScopesField(source="program.allowed_scopes", help_text="the most that it may do")
    enabled = serializers.SerializerMethodField(help_text="false: it has no access to the group")
    requests_per_minute = serializers.IntegerField(
        source="program.requests_per_minute", allow_null=True, help_text="null: the general limit"
    )
    made_by = PersonRefSerializer(source="program.user", allow_null=True)

    class Meta:
        model = GroupProgram
        fields: tuple[str, ...] = (
            "id",
            "version",
            "kind",
            "program",
            "name",
            "role",
            "scopes",
            "enabled",
            "requests_per_minute",
            "posted_at",
            "made_by",
            "created_at",
        )

    @extend_schema_field(serializers.BooleanField())
    def get_enabled(self, group_program: GroupProgram) -> bool:
        return group_program.enabled and group_program.program.enabled


class NewProgramSerializer(ProgramSerializer):
    client_id = serializers.CharField(source="program.client_id", help_text="for POST /oauth/token")
    client_secret = serializers.CharField(allow_null=True, help_text="shown once: null in a repeat")

    class Meta(ProgramSerializer.Meta):
        fields = (*ProgramSerializer.Meta.fields, "client_id", "client_secret")


class ProgramLimits(StrictBody):
    role = serializers.ChoiceField(
        ROLES,
        default=Membership.Role.HELPER.value,
        help_text="a helper posts findings and plans; a buyer also adds boats, prices and quotes",
    )
    scopes = ScopesField(help_text="the most that it may do, within its role")
    requests_per_minute = serializers.IntegerField(
        min_value=1,
        max_value=100_000,
        default=None,
        allow_null=True,
        help_text="null: the general limit",
    )


class ProgramBody(ProgramLimits):
    name = serializers.CharField(max_length=120)


class ProgramChange(ProgramLimits):
    enabled = serializers.BooleanField(
        help_text="false: no access to the group until this is true again"
    )
