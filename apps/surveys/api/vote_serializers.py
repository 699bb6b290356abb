from decimal import Decimal
from typing import Any

from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.http.bodies import StrictBody
from apps.http.views import ClientIdMixin
from apps.surveys.models import SurveyBallot, SurveyVote
from apps.surveys.selectors import ballots_seen, turnout_of
from apps.viewings.api.fields import OptionalWord


def part(**options: Any) -> serializers.DecimalField:
    return serializers.DecimalField(max_digits=7, decimal_places=6, **options)


class SurveyBallotSerializer(serializers.ModelSerializer[SurveyBallot]):
    person = PersonRefSerializer()
    weight = part(allow_null=True, help_text="the part it counted for, once the vote is closed")

    class Meta:
        model = SurveyBallot
        fields = ("id", "version", "vote", "person", "choice", "note", "weight", "updated_at")


class SurveyVoteSerializer(serializers.ModelSerializer[SurveyVote]):
    """A vote on a survey, for the `reader` of the context."""

    opened_by = PersonRefSerializer()
    closed_by = PersonRefSerializer(allow_null=True)
    outcome = OptionalWord(SurveyVote.Outcome.choices, help_text="null while it is open")
    turnout = serializers.SerializerMethodField(help_text="the part that voted; null while open")
    ballots = serializers.SerializerMethodField()
    hidden = serializers.SerializerMethodField(
        help_text="how many others voted whose ballots you see once the vote is closed, or the "
        "organiser opens the list's opinions"
    )

    class Meta:
        model = SurveyVote
        fields = (
            "id",
            "version",
            "candidate",
            "reason",
            "counted_by",
            "quorum",
            "closes_on",
            "opened_by",
            "created_at",
            "closed_at",
            "closed_by",
            "outcome",
            "in_favour",
            "against",
            "abstained",
            "turnout",
            "note",
            "ballots",
            "hidden",
        )

    def get_turnout(self, vote: SurveyVote) -> str | None:
        turnout = turnout_of(vote)
        return None if turnout is None else f"{turnout:f}"

    def get_ballots(self, vote: SurveyVote) -> SurveyBallotSerializer(many=True):  # type: ignore[valid-type]  # read by drf-spectacular
        return SurveyBallotSerializer(
            ballots_seen(self.context["reader"], vote).visible, many=True
        ).data

    def get_hidden(self, vote: SurveyVote) -> int:
        return ballots_seen(self.context["reader"], vote).hidden


class SurveyVoteBody(ClientIdMixin, StrictBody):
    """Ask the buyers whether she is surveyed."""

    reason = serializers.CharField(max_length=1000, default="", allow_blank=True)
    counted_by = serializers.ChoiceField(
        SurveyVote.CountedBy.choices, default=SurveyVote.CountedBy.SHARES
    )
    quorum = part(
        min_value=Decimal("0.000001"),
        max_value=Decimal(1),
        default=Decimal("0.5"),
        help_text="the part of the shares or heads that must vote",
    )
    closes_on = serializers.DateField(default=None, allow_null=True)


class SurveyBallotBody(StrictBody):
    """The sender's own ballot."""

    choice = serializers.ChoiceField(SurveyBallot.Choice.choices)
    note = serializers.CharField(max_length=1000, default="", allow_blank=True)


class SurveyVoteClosingBody(StrictBody):
    """Count the ballots, or call the vote off."""

    note = serializers.CharField(max_length=1000, default="", allow_blank=True)
    call_off = serializers.BooleanField(default=False, help_text="close it without a decision")
