from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.accounts.models import ThroughClient
from apps.boats.models import Candidate, at_least_zero, money
from apps.catalogue.models import Remedy
from apps.exchange.models import Versioned


class Quote(Versioned, ThroughClient):
    """A price from a yard or rigger for a remedy on a candidate. Never changed, only withdrawn."""

    class Firmness(models.TextChoices):
        FIXED = "fixed", "a fixed price"
        ESTIMATE = "estimate", "an estimate"

    candidate = models.ForeignKey(Candidate, on_delete=models.CASCADE, related_name="quotes")
    remedy = models.ForeignKey(Remedy, on_delete=models.PROTECT, related_name="quotes")
    amount = money()
    currency = models.CharField(max_length=3)
    firmness = models.CharField(max_length=8, choices=Firmness.choices)
    includes_enabling = models.BooleanField(
        default=False, help_text="lift-out, mast down and the like are in the price"
    )
    from_whom = models.CharField(
        max_length=120, help_text="the yard or trade, as the group calls it"
    )
    scope = models.CharField(max_length=500, blank=True)
    dated_on = models.DateField()
    valid_until = models.DateField(null=True, blank=True)
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="quotes_added"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            at_least_zero("quote_at_least_0", "amount"),
            models.CheckConstraint(
                condition=Q(valid_until=None) | Q(valid_until__gte=models.F("dated_on")),
                name="quote_valid_from_its_date",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount} {self.currency} for {self.remedy_id}"
