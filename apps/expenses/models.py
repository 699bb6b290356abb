from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.accounts.models import ThroughClient
from apps.boats.list_models import money_field
from apps.boats.models import Candidate
from apps.common.models import Versioned
from apps.groups.models import Group


class Ledger(Versioned):
    """The common money of a group, in one currency. Its version rises with each entry."""

    group = models.OneToOneField(Group, on_delete=models.CASCADE, related_name="ledger")
    currency = models.CharField(max_length=3)
    entries_made = models.PositiveIntegerField(default=0)
    digest = models.CharField(max_length=64, blank=True, help_text="of the last entry")

    def __str__(self) -> str:
        return f"{self.entries_made} entries in {self.currency}"


class LedgerEntry(Versioned, ThroughClient):
    """One entry. It is never changed; `reverses` names the entry that it takes back.

    amount: in the ledger's currency; negative in a reversal.
    """

    class Kind(models.TextChoices):
        EXPENSE = "expense", "somebody paid for several"
        PAYMENT = "payment", "somebody paid somebody"
        REVERSAL = "reversal", "takes another entry back"

    class Purpose(models.TextChoices):
        JOURNEY = "journey", "journeys"
        LIFT_OUT = "lift_out", "lift-out"
        SURVEY = "survey", "survey"
        DEPOSIT = "deposit", "deposit"
        PRICE = "price", "the price of the boat"
        WORK = "work", "work and material"
        BERTH = "berth", "berth and storage"
        INSURANCE = "insurance", "insurance"
        OTHER = "other", "something else"

    class Rule(models.TextChoices):
        EQUAL = "equal", "in equal parts"
        SHARES = "shares", "by shares of the purchase"
        USE = "use", "by use"

    ledger = models.ForeignKey(Ledger, on_delete=models.CASCADE, related_name="entries")
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=8, choices=Kind.choices)
    purpose = models.CharField(max_length=9, choices=Purpose.choices, blank=True)
    rule = models.CharField(max_length=6, choices=Rule.choices, blank=True)
    what = models.CharField(max_length=200)
    note = models.CharField(max_length=500, blank=True)
    candidate = models.ForeignKey(
        Candidate, on_delete=models.RESTRICT, null=True, blank=True, related_name="entries"
    )
    paid_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="entries_paid"
    )
    paid_on = models.DateField()
    amount = money_field()
    # As it was paid; the same as above if it was paid in the ledger's currency.
    paid_amount = money_field()
    paid_currency = models.CharField(max_length=3)
    rate = models.DecimalField(
        max_digits=18,
        decimal_places=8,
        default=Decimal(1),
        help_text="the value of one unit of the currency paid in the ledger's",
    )
    rate_known_from = models.CharField(max_length=120, blank=True)
    rate_on = models.DateField(null=True, blank=True)
    reverses = models.OneToOneField(
        "self", on_delete=models.RESTRICT, null=True, blank=True, related_name="reversed_by"
    )
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="entries_added"
    )
    # The text that the digest covers, with the ids of the service where it was made.
    record = models.TextField()
    digest = models.CharField(max_length=64)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=("ledger", "number"), name="entry_number_once"),
            models.CheckConstraint(
                condition=Q(kind="reversal", reverses__isnull=False, amount__lte=0)
                | Q(kind__in=("expense", "payment"), reverses=None, amount__gte=0),
                name="entry_reversal_names_its_entry",
            ),
            models.CheckConstraint(condition=Q(rate__gt=0), name="entry_rate_above_0"),
        ]

    def __str__(self) -> str:
        return f"{self.number}: {self.what}"


class EntryPart(models.Model):
    """What one person owes of an entry. The parts of an entry add up to its amount."""

    entry = models.ForeignKey(LedgerEntry, on_delete=models.CASCADE, related_name="parts")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="entry_parts"
    )
    place = models.PositiveSmallIntegerField(help_text="in the entry's record, from 0")
    weight = models.DecimalField(max_digits=12, decimal_places=6, default=Decimal(1))
    amount = money_field()

    class Meta:
        ordering = ("place",)
        constraints = [
            models.UniqueConstraint(fields=("entry", "place"), name="part_in_each_place_once"),
            models.UniqueConstraint(fields=("entry", "person"), name="part_of_each_person_once"),
            models.CheckConstraint(condition=Q(weight__gte=0), name="part_weight_at_least_0"),
        ]

    def __str__(self) -> str:
        return f"{self.amount} of entry {self.entry_id}"
