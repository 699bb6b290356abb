from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Protocol

from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.groups.models import Club, ClubMembership, Group, Invitation, Membership
from apps.http.bodies import StrictBody
from apps.http.views import ClientIdMixin


class ClubRefSerializer(serializers.ModelSerializer[Club]):
    class Meta:
        model = Club
        fields = ("id", "name")


class GroupRefSerializer(serializers.ModelSerializer[Group]):
    class Meta:
        model = Group
        fields = ("id", "name")


class ReadByMember(Protocol):
    """A group or a club with the reader's own membership, as the selectors prefetch it."""

    own_membership: Sequence[Membership | ClubMembership]


class GroupSerializer(serializers.ModelSerializer[Group]):
    own_role = serializers.SerializerMethodField(help_text="your role in it")

    class Meta:
        model = Group
        fields = (
            "id",
            "version",
            "name",
            "club",
            "pools_with_club",
            "shares_surveys",
            "own_role",
            "created_at",
            "updated_at",
        )

    def get_own_role(self, group: ReadByMember) -> str:
        return group.own_membership[0].role


class GroupBody(ClientIdMixin):
    name = serializers.CharField(max_length=120)
    club_id = serializers.UUIDField(
        required=False, allow_null=True, help_text="a club you belong to, for the group to join"
    )


class GroupChangeBody(StrictBody):
    """Only the fields sent change."""

    name = serializers.CharField(max_length=120, required=False)
    pools_with_club = serializers.BooleanField(
        required=False,
        help_text="the group's findings help the other groups of its club that pool, and theirs "
        "help it; only sums over three groups or more are passed on, never a boat or a finding",
    )
    shares_surveys = serializers.BooleanField(
        required=False,
        help_text="what surveys found on the group's boats, how its own looks had seen it and what "
        "bills came to are in the club's statistics, and help the other groups that share; "
        "only sums "
        "over three groups or more beside the reader's own, never a boat",
    )

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        if not facts:
            raise serializers.ValidationError("Send at least one field.", code="empty")
        return facts


class NameBody(StrictBody):
    name = serializers.CharField(max_length=120)


class MembershipSerializer(serializers.ModelSerializer[Membership]):
    person = PersonRefSerializer()

    class Meta:
        model = Membership
        fields = ("id", "version", "person", "role", "buys", "share", "created_at")


class MembershipBody(StrictBody):
    role = serializers.ChoiceField(Membership.Role.choices)
    buys = serializers.BooleanField(help_text="votes, and pays a share; organisers and buyers only")


class ShareSerializer(StrictBody):
    person = serializers.UUIDField()
    share = serializers.DecimalField(
        max_digits=7, decimal_places=6, min_value=Decimal(0), max_value=Decimal(1)
    )


class SharesSerializer(StrictBody):
    shares = ShareSerializer(many=True)

    def validate_shares(self, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        people = [row["person"] for row in rows]
        if len(set(people)) < len(people):
            raise serializers.ValidationError("A person is named twice.", code="named_twice")
        return rows


class InvitationSerializer(serializers.ModelSerializer[Invitation]):
    class Meta:
        model = Invitation
        fields: tuple[str, ...] = (
            "id",
            "version",
            "group",
            "club",
            "role",
            "note",
            "created_at",
            "expires_at",
            "used_at",
            "withdrawn_at",
        )


class NewInvitationSerializer(InvitationSerializer):
    token = serializers.CharField(
        allow_null=True, help_text="send it to the person invited; shown once: null in a repeat"
    )

    class Meta(InvitationSerializer.Meta):
        fields = (*InvitationSerializer.Meta.fields, "token")


class InvitationBody(StrictBody):
    role = serializers.ChoiceField(Membership.Role.choices)
    note = serializers.CharField(max_length=200, required=False, help_text="for whom it is meant")


class ClubInvitationBody(StrictBody):
    role = serializers.ChoiceField(ClubMembership.Role.choices)
    note = serializers.CharField(max_length=200, required=False, help_text="for whom it is meant")


class AcceptanceBody(StrictBody):
    token = serializers.CharField(max_length=200, help_text="from the invitation")
    email = serializers.EmailField(required=False, help_text="unless you are signed in")
    name = serializers.CharField(max_length=120, required=False)
    password = serializers.CharField(max_length=256, required=False, trim_whitespace=False)


class ClubSerializer(serializers.ModelSerializer[Club]):
    own_role = serializers.SerializerMethodField(help_text="your role in it")

    class Meta:
        model = Club
        fields = ("id", "version", "name", "own_role", "created_at", "updated_at")

    def get_own_role(self, club: ReadByMember) -> str:
        return club.own_membership[0].role


class ClubBody(ClientIdMixin):
    name = serializers.CharField(max_length=120)


class ClubMembershipSerializer(serializers.ModelSerializer[ClubMembership]):
    person = PersonRefSerializer()

    class Meta:
        model = ClubMembership
        fields = ("id", "version", "person", "role", "created_at")


class ClubMembershipBody(StrictBody):
    role = serializers.ChoiceField(ClubMembership.Role.choices)
