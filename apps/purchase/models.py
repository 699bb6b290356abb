from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.accounts.models import ThroughClient
from apps.boats.list_models import at_least_zero, money_field
from apps.boats.models import Candidate
from apps.catalogue.models import Remedy
from apps.common.models import Versioned
from apps.purchase.offers.models import Offer as Offer


class RemedyMoney(Versioned, ThroughClient):
    """What quotes and bills share: money for a remedy on a candidate. Withdrawn ones are kept."""

    candidate = models.ForeignKey(Candidate, on_delete=models.CASCADE, related_name="%(class)ss")
    remedy = models.ForeignKey(Remedy, on_delete=models.PROTECT, related_name="%(class)ss")
    amount = money_field()
    currency = models.CharField(max_length=3)
    dated_on = models.DateField()
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="%(class)ss_added"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return f"{self.amount} {self.currency} for {self.remedy_id}"


class Quote(RemedyMoney):
    """A price from a yard or rigger for a remedy on a candidate. Never changed, only withdrawn."""

    class Firmness(models.TextChoices):
        FIXED = "fixed", "a fixed price"
        ESTIMATE = "estimate", "an estimate"

    firmness = models.CharField(max_length=8, choices=Firmness.choices)
    includes_enabling = models.BooleanField(
        default=False, help_text="the price includes lift-out, unstepping the mast and the like"
    )
    from_whom = models.CharField(max_length=120, help_text="the group's name for the yard or trade")
    scope = models.CharField(max_length=500, blank=True)
    valid_until = models.DateField(null=True, blank=True)
    # Of a surveyor's estimate: what it may cost, from and to; the amount is their middle.
    low = money_field(null=True, blank=True)
    high = money_field(null=True, blank=True)

    class Meta:
        constraints = [
            at_least_zero("quote_at_least_0", "amount"),
            models.CheckConstraint(
                condition=Q(low=None, high=None)
                | Q(firmness="estimate", low__gt=0, high__gte=models.F("low")),
                name="quote_range_is_of_an_estimate",
            ),
            models.CheckConstraint(
                condition=Q(valid_until=None) | Q(valid_until__gte=models.F("dated_on")),
                name="quote_valid_from_its_date",
            ),
        ]


class Bill(RemedyMoney):
    """The final cost of a remedy on a candidate.

    No result depends on it, and a clearance, not a bill, records a repair. Estimates are compared
    with it.
    """

    class DoneBy(models.TextChoices):
        PROFESSIONAL = "professional", "a yard or a trade"
        OWN = "own", "the group itself, without its own hours"

    amount = money_field(help_text="the amount paid for the remedy")
    done_by = models.CharField(max_length=12, choices=DoneBy.choices)
    includes_enabling = models.BooleanField(
        default=False, help_text="the amount includes lift-out, unstepping the mast and the like"
    )
    document = models.CharField(max_length=300, help_text="the invoice or receipt")
    note = models.CharField(max_length=500, blank=True)

    class Meta:
        constraints = [
            at_least_zero("bill_at_least_0", "amount"),
            models.CheckConstraint(
                condition=Q(done_by__in=("professional", "own")), name="bill_says_who_did_it"
            ),
        ]
