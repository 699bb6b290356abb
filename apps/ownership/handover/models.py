from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.boats.list_models import at_least_zero, money_field
from apps.boats.models import Candidate
from apps.common.models import Versioned


class Handover(Versioned):
    """The facts of the bill of sale, and of the day on which the boat was handed over."""

    candidate = models.OneToOneField(Candidate, on_delete=models.CASCADE, related_name="handover")
    sold_on = models.DateField(null=True, blank=True, help_text="the date of the bill of sale")
    seller = models.CharField(max_length=300, blank=True, help_text="all who signed as owners")
    buyers = models.CharField(max_length=300, blank=True, help_text="in whose names she is bought")
    price_amount = money_field(null=True, blank=True)
    price_currency = models.CharField(max_length=3, blank=True)
    hull_number = models.CharField(
        max_length=40, blank=True, help_text="as it stands on the hull and in the papers"
    )
    document = models.CharField(max_length=300, blank=True, help_text="where the signed bill is")
    handed_over_on = models.DateField(null=True, blank=True)
    place = models.CharField(max_length=200, blank=True)
    engine_hours = models.PositiveIntegerField(null=True, blank=True)
    note = models.CharField(max_length=1000, blank=True)
    changed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="handovers_changed"
    )

    class Meta:
        constraints = [
            at_least_zero("handover_price_at_least_0", "price_amount"),
            models.CheckConstraint(
                condition=Q(price_amount=None, price_currency="")
                | (Q(price_amount__isnull=False) & ~Q(price_currency="")),
                name="handover_price_has_currency",
            ),
        ]

    def __str__(self) -> str:
        return f"handover of {self.candidate_id}"


class HandoverItem(Versioned):
    """Something to be handed over, and how many of it were found, by whom and when."""

    class Kind(models.TextChoices):
        KEY = "key", "keys"
        INVENTORY = "inventory", "inventory"
        PAPERS = "papers", "papers"

    candidate = models.ForeignKey(
        Candidate, on_delete=models.CASCADE, related_name="handover_items"
    )
    kind = models.CharField(max_length=9, choices=Kind.choices)
    what = models.CharField(max_length=200)
    promised = models.PositiveSmallIntegerField(default=1, help_text="how many go with her")
    found = models.PositiveSmallIntegerField(null=True, blank=True)
    where = models.CharField(max_length=200, blank=True, help_text="where it is kept, who has it")
    note = models.CharField(max_length=500, blank=True, help_text="its state")
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="handover_items_added"
    )
    checked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="handover_items_checked",
    )
    checked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("created_at", "pk")
        constraints = [
            models.CheckConstraint(
                condition=Q(found=None, checked_by=None, checked_at=None)
                | Q(found__isnull=False, checked_by__isnull=False, checked_at__isnull=False),
                name="handover_item_found_by_somebody",
            )
        ]

    def __str__(self) -> str:
        return self.what

    @property
    def missing(self) -> bool:
        return self.found is not None and self.found < self.promised
