from collections.abc import Sequence
from typing import Any, Protocol

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.groups.api.serializers import ClubRefSerializer, GroupRefSerializer
from apps.groups.models import AdmissionRequest, Group, Membership
from apps.http.bodies import StrictBody
from apps.http.pages import PageQuery
from apps.http.views import ClientIdMixin

State = AdmissionRequest.State
DECISIONS = [choice for choice in State.choices if choice[0] in (State.ACCEPTED, State.DECLINED)]


class WithOrganisers(Protocol):
    """A group as `groups_of_club` prefetches it."""

    organisers: Sequence[Membership]


class ClubGroupSerializer(serializers.ModelSerializer[Group]):
    """What a club's secretary sees of a group."""

    organisers = serializers.SerializerMethodField()

    class Meta:
        model = Group
        fields = ("id", "version", "name", "organisers", "created_at")

    @extend_schema_field(PersonRefSerializer(many=True))
    def get_organisers(self, group: WithOrganisers) -> Any:
        return PersonRefSerializer([one.person for one in group.organisers], many=True).data


class AdmissionRequestSerializer(serializers.ModelSerializer[AdmissionRequest]):
    group = GroupRefSerializer()
    club = ClubRefSerializer()
    asked_by = PersonRefSerializer()
    settled_by = PersonRefSerializer(allow_null=True)

    class Meta:
        model = AdmissionRequest
        fields = (
            "id",
            "version",
            "group",
            "club",
            "asked_by",
            "note",
            "state",
            "reason",
            "settled_by",
            "settled_at",
            "created_at",
        )


class AdmissionRequestQuery(PageQuery):
    state = serializers.ChoiceField(State.choices, required=False)


class AdmissionRequestBody(ClientIdMixin):
    club_id = serializers.UUIDField(help_text="a club you belong to")
    note = serializers.CharField(
        max_length=1000, required=False, allow_blank=True, help_text="to the club's secretaries"
    )


class AdmissionDecisionBody(StrictBody):
    state = serializers.ChoiceField(DECISIONS)
    reason = serializers.CharField(
        max_length=1000, required=False, allow_blank=True, help_text="why it is declined"
    )

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        if facts.get("reason") and facts["state"] != State.DECLINED:
            raise serializers.ValidationError(
                {
                    "reason": serializers.ErrorDetail(
                        "Only a declined request has a reason.", code="not_declined"
                    )
                }
            )
        return facts
