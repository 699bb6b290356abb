from typing import TypedDict

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from apps.accounts.models import ThroughClient
from apps.boats.list_models import at_least_zero, money_field
from apps.boats.models import Candidate
from apps.boats.vocabulary import Stage
from apps.common.models import Versioned


class OfferCondition(models.TextChoices):
    """What the trade makes an offer subject to; common practice, no source."""

    SURVEY = "survey", "a survey that satisfies us"
    SEA_TRIAL = "sea_trial", "a sea trial"
    FINANCE = "finance", "our loan being granted"
    TITLE = "title", "clear title, free of debts"
    INSURANCE = "insurance", "an insurance offer"


class ConditionUntil(TypedDict):
    """until: the day by which it is to be met, in ISO 8601; None if none was agreed."""

    code: str
    until: str | None


class Offer(Versioned, ThroughClient):
    """A price that one side named for a boat, and what became of it.

    The last one that is made or accepted is the offer on the table. stage_before: where the boat
    goes back to if nothing comes of it.
    """

    class Side(models.TextChoices):
        BUYERS = "buyers", "we offered"
        SELLER = "seller", "the seller asked"

    class State(models.TextChoices):
        MADE = "made", "made, and not answered yet"
        COUNTERED = "countered", "answered by another price"
        ACCEPTED = "accepted", "accepted"
        REFUSED = "refused", "refused"
        WITHDRAWN = "withdrawn", "withdrawn"
        LAPSED = "lapsed", "not answered in time"

    candidate = models.ForeignKey(Candidate, on_delete=models.CASCADE, related_name="offers")
    side = models.CharField(max_length=6, choices=Side.choices, default=Side.BUYERS)
    amount = money_field()
    currency = models.CharField(max_length=3)
    offered_on = models.DateField()
    answer_by = models.DateField(null=True, blank=True, help_text="it lapses after this day")
    conditions = models.JSONField(default=list, blank=True, help_text="what it is subject to")
    note = models.CharField(max_length=1000, blank=True)
    state = models.CharField(max_length=9, choices=State.choices, default=State.MADE)
    settled_on = models.DateField(null=True, blank=True, help_text="the day of the answer")
    reason = models.CharField(max_length=1000, blank=True)
    stage_before = models.CharField(max_length=12, choices=Stage.choices)
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="offers_added"
    )

    class Meta:
        constraints = [
            at_least_zero("offer_at_least_0", "amount"),
            models.UniqueConstraint(
                fields=["candidate"],
                condition=Q(state__in=("made", "accepted")),
                name="one_offer_on_the_table_of_a_boat",
            ),
            models.CheckConstraint(
                condition=Q(answer_by=None) | Q(answer_by__gte=F("offered_on")),
                name="offer_open_from_its_day",
            ),
            models.CheckConstraint(
                condition=Q(state="made", settled_on=None)
                | (~Q(state="made") & ~Q(settled_on=None)),
                name="offer_settled_on_a_day",
            ),
            models.CheckConstraint(
                condition=Q(
                    state__in=("made", "countered", "accepted", "refused", "withdrawn", "lapsed")
                ),
                name="offer_in_a_known_state",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} {self.currency}, {self.state}"

    @property
    def on_the_table(self) -> bool:
        return self.state in ON_THE_TABLE


ON_THE_TABLE = (Offer.State.MADE, Offer.State.ACCEPTED)
FAILED = (Offer.State.REFUSED, Offer.State.WITHDRAWN, Offer.State.LAPSED)
