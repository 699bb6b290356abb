from decimal import Decimal
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.accounts.models import ThroughClient
from apps.boats.list_models import at_least_zero, money_field
from apps.boats.models import Candidate
from apps.catalogue.models import Checkpoint, Remedy
from apps.common.models import Versioned
from apps.purchase.models import Quote
from apps.viewings.models import REASONS, Finding, Submission


def part_field(**options: Any) -> "models.DecimalField[Any, Any]":
    """A part of the whole, from 0 to 1."""
    return models.DecimalField(max_digits=7, decimal_places=6, **options)


class SurveyVote(Versioned):
    """A vote of the buyers: shall she be surveyed? Once closed it never changes."""

    class CountedBy(models.TextChoices):
        SHARES = "shares", "by shares of the purchase"
        HEADS = "heads", "one vote each"

    class Outcome(models.TextChoices):
        ACCEPTED = "accepted", "accepted"
        REJECTED = "rejected", "rejected"
        NO_QUORUM = "no_quorum", "too few voted"
        CALLED_OFF = "called_off", "called off"

    candidate = models.ForeignKey(Candidate, on_delete=models.CASCADE, related_name="survey_votes")
    reason = models.CharField(max_length=1000, blank=True, help_text="why her, why now")
    counted_by = models.CharField(max_length=6, choices=CountedBy.choices)
    quorum = part_field(help_text="the part of the shares or heads that must vote")
    closes_on = models.DateField(null=True, blank=True, help_text="votes are asked for until then")
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="survey_votes_opened"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="survey_votes_closed",
    )
    outcome = models.CharField(max_length=10, choices=Outcome.choices, blank=True)
    # Parts of all shares or heads at the closing; what is missing to 1 did not vote.
    in_favour = part_field(null=True, blank=True)
    against = part_field(null=True, blank=True)
    abstained = part_field(null=True, blank=True)
    note = models.CharField(max_length=1000, blank=True, help_text="said at the closing")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=("candidate",), condition=Q(closed_at=None), name="one_open_survey_vote"
            ),
            models.CheckConstraint(
                condition=Q(quorum__gt=0, quorum__lte=1), name="survey_vote_quorum_is_a_part"
            ),
            models.CheckConstraint(
                condition=Q(closed_at=None, closed_by=None, outcome="")
                | (Q(closed_at__isnull=False, closed_by__isnull=False) & ~Q(outcome="")),
                name="closed_survey_vote_has_an_outcome",
            ),
        ]

    def __str__(self) -> str:
        return f"survey of {self.candidate_id}: {self.outcome or 'open'}"

    @property
    def is_open(self) -> bool:
        return self.closed_at is None


class SurveyBallot(Versioned):
    """One buyer's voice in a vote on a survey. `weight`: the part it counted for at the closing."""

    class Choice(models.TextChoices):
        YES = "yes", "yes"
        NO = "no", "no"
        ABSTAIN = "abstain", "abstains"

    vote = models.ForeignKey(SurveyVote, on_delete=models.CASCADE, related_name="ballots")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="survey_ballots"
    )
    choice = models.CharField(max_length=7, choices=Choice.choices)
    note = models.CharField(max_length=1000, blank=True)
    weight = part_field(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=("vote", "person"), name="one_survey_ballot_each"),
        ]

    def __str__(self) -> str:
        return f"{self.person_id}: {self.choice}"


class Survey(Versioned):
    """A survey that the group commissioned. It has been made once there is a report."""

    class Kind(models.TextChoices):
        HULL = "hull", "the whole boat, by a surveyor"
        RIG = "rig", "the rig, by a rigger"
        ENGINE = "engine", "the engine, by an engine mechanic"
        SAILS = "sails", "the sails, by a sailmaker"
        ELECTRICS = "electrics", "the electrics, by an electrician"
        GAS = "gas", "the gas, by a gas fitter"

    # Whose finding the report's is, in the words of apps/viewings.
    PROFESSION = {
        Kind.HULL: "surveyor",
        Kind.RIG: "rigger",
        Kind.ENGINE: "engine mechanic",
        Kind.SAILS: "sailmaker",
        Kind.ELECTRICS: "electrician",
        Kind.GAS: "gas fitter",
    }

    class State(models.TextChoices):
        COMMISSIONED = "commissioned", "commissioned"
        CALLED_OFF = "called_off", "called off"

    candidate = models.ForeignKey(Candidate, on_delete=models.CASCADE, related_name="surveys")
    vote = models.ForeignKey(
        SurveyVote, on_delete=models.RESTRICT, null=True, blank=True, related_name="surveys"
    )
    kind = models.CharField(max_length=9, choices=Kind.choices)
    state = models.CharField(max_length=12, choices=State.choices, default=State.COMMISSIONED)
    surveyor = models.CharField(max_length=120, help_text="who makes it, as the group calls them")
    scope = models.CharField(max_length=1000, blank=True, help_text="what is agreed to be surveyed")
    lift_out = models.BooleanField(default=False, help_text="she is lifted out for it")
    planned_on = models.DateField(null=True, blank=True)
    fee_amount = money_field(null=True, blank=True, help_text="as agreed")
    fee_currency = models.CharField(max_length=3, blank=True)
    payer = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="surveys_to_pay",
        help_text="who of the group pays it first",
    )
    note = models.CharField(max_length=1000, blank=True)
    commissioned_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="surveys_commissioned"
    )

    class Meta:
        constraints = [
            at_least_zero("survey_fee_at_least_0", "fee_amount"),
            models.CheckConstraint(
                condition=Q(fee_amount=None, fee_currency="")
                | (Q(fee_amount__isnull=False) & ~Q(fee_currency="")),
                name="survey_fee_has_a_currency",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} by {self.surveyor}"

    @property
    def profession(self) -> str:
        return self.PROFESSION[self.Kind(self.kind)]


class SurveyReport(Versioned, ThroughClient):
    """A professional's report as the group entered it. A correction is a further one."""

    survey = models.ForeignKey(Survey, on_delete=models.CASCADE, related_name="reports")
    submission = models.OneToOneField(
        Submission, on_delete=models.RESTRICT, related_name="survey_report"
    )
    number = models.PositiveSmallIntegerField(help_text="the last one of a survey counts")
    document = models.CharField(max_length=300, help_text="the report: its number, date, file")
    looked_at = models.DateTimeField(help_text="when the professional looked")
    summary = models.TextField(max_length=4000, blank=True)
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="survey_reports"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=("survey", "number"), name="survey_report_number_once"),
        ]

    def __str__(self) -> str:
        return f"{self.number} of {self.survey_id}"


class SurveyFinding(models.Model):
    """One finding of a report, in the professional's words.

    With a checkpoint it is also a finding of the submission; with a cost and a remedy also a quote.
    """

    class Urgency(models.TextChoices):
        """How soon it is to be put right. Common practice of surveyors, no source."""

        BEFORE_USE = "before_use", "before she is used"
        NEXT_SEASON = "next_season", "before the next season"
        WHEN_CONVENIENT = "when_convenient", "when convenient"

    report = models.ForeignKey(SurveyReport, on_delete=models.CASCADE, related_name="findings")
    place = models.PositiveSmallIntegerField(help_text="in the report, from 0")
    checkpoint = models.ForeignKey(
        Checkpoint, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    kind = models.CharField(
        max_length=15, choices=Finding.Kind.choices, default=Finding.Kind.LOOKED
    )
    level = models.PositiveSmallIntegerField(null=True, blank=True, choices=Finding.Level.choices)
    reason = models.CharField(max_length=30, blank=True, choices=list(REASONS.items()))
    measured_value = models.FloatField(null=True, blank=True, help_text="as read off, in its unit")
    measured_unit = models.CharField(max_length=20, blank=True)
    words = models.TextField(max_length=4000, blank=True)
    urgency = models.CharField(max_length=15, choices=Urgency.choices, blank=True)
    low = money_field(null=True, blank=True)
    high = money_field(null=True, blank=True)
    currency = models.CharField(max_length=3, blank=True)
    remedy = models.ForeignKey(
        Remedy, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    quote = models.OneToOneField(
        Quote, on_delete=models.RESTRICT, null=True, blank=True, related_name="survey_finding"
    )

    class Meta:
        ordering = ("place",)
        constraints = [
            models.UniqueConstraint(fields=("report", "place"), name="survey_finding_place_once"),
            models.CheckConstraint(
                condition=~Q(checkpoint=None, words=""), name="survey_finding_says_something"
            ),
            models.CheckConstraint(
                condition=Q(measured_value=None, measured_unit="")
                | (~Q(checkpoint=None) & ~Q(measured_value=None) & ~Q(measured_unit="")),
                name="survey_finding_measured_at_a_checkpoint_with_a_unit",
            ),
            models.CheckConstraint(
                condition=Q(low=None, high=None, currency="")
                | (Q(low__gt=Decimal(0), high__gte=models.F("low")) & ~Q(currency="")),
                name="survey_finding_cost_is_a_range",
            ),
        ]

    def __str__(self) -> str:
        return self.checkpoint_id or self.words[:40]
