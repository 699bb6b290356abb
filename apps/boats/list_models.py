"""Lists with their briefs, and helpers for columns of money."""

from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models import Q
from django.utils import timezone

from apps.common.models import Versioned
from apps.groups.models import Group


def no_links() -> list[str]:
    return []


def money_field(**options: Any) -> "models.DecimalField[Any, Any]":
    return models.DecimalField(max_digits=14, decimal_places=2, **options)


def at_least_zero(name: str, *fields: str) -> models.CheckConstraint:
    return _each(name, fields, "gte")


def above_zero(name: str, *fields: str) -> models.CheckConstraint:
    return _each(name, fields, "gt")


def _each(name: str, fields: tuple[str, ...], compare: str) -> models.CheckConstraint:
    condition = Q()
    for field in fields:
        condition &= Q(**{f"{field}__{compare}": 0}) | Q(**{field: None})
    return models.CheckConstraint(condition=condition, name=name)


class CandidateList(Versioned):
    """A shared list of candidates with its brief: the money, the rates and the rules."""

    class VoteWeights(models.TextChoices):
        SHARE = "share", "by share of the purchase"
        HEAD = "head", "one person, one vote"

    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="lists")
    name = models.CharField(max_length=120)
    # The brief. Money is in `currency`.
    currency = models.CharField(max_length=3)
    budget = money_field(help_text="the most the group will spend to be sailing")
    required_confidence = models.DecimalField(
        max_digits=3, decimal_places=2, default=Decimal("0.80")
    )
    # Null: the catalogue's amount is filled in once there is a rate for its currency.
    survey_fee_per_m = money_field(null=True, blank=True, help_text="per metre of LOA")
    survey_fee_minimum = money_field(null=True, blank=True)
    survey_lift_out = money_field(null=True, blank=True)
    tax_rate = models.DecimalField(max_digits=5, decimal_places=4, default=Decimal(0))
    transport = money_field(default=Decimal(0))
    registration = money_field(null=True, blank=True)
    reserve_rate = models.DecimalField(
        max_digits=4, decimal_places=3, default=Decimal("0.100"), help_text="part of the price"
    )
    expected_price_share = models.DecimalField(
        max_digits=4, decimal_places=3, default=Decimal("0.950"), help_text="of the asking price"
    )
    expected_price_share_sd = models.DecimalField(
        max_digits=4, decimal_places=3, default=Decimal("0.050")
    )
    money_off_chance = models.DecimalField(
        max_digits=3,
        decimal_places=2,
        default=Decimal("0.50"),
        help_text="that a seller takes off what a survey found",
    )
    yard_hourly_rate = money_field(null=True, blank=True)
    own_remedies = models.JSONField(
        default=list, blank=True, help_text="codes of remedies done by the group"
    )
    own_hours = models.PositiveIntegerField(
        default=0, help_text="hours that the group has for its own work"
    )
    own_hour_value = money_field(default=Decimal(0))
    exchange_rates = models.JSONField(
        default=dict,
        blank=True,
        help_text="value of one unit of another currency in this list's, as decimal text",
    )
    price_year = models.PositiveSmallIntegerField(default=2024, help_text="year of the prices")
    travel_km = models.PositiveIntegerField(null=True, blank=True)
    years_kept = models.PositiveSmallIntegerField(default=5)
    discount_rate = models.DecimalField(max_digits=5, decimal_places=4, default=Decimal("0.03"))
    vote_weights = models.CharField(
        max_length=5, choices=VoteWeights.choices, default=VoteWeights.SHARE
    )
    opinions_open = models.BooleanField(
        default=False,
        help_text="whether the organiser lets everybody see votes, valuations and ballots",
    )
    inputs_revision = models.PositiveBigIntegerField(
        default=1, editable=False, help_text="raised by every change that results depend on"
    )
    inputs_changed_at = models.DateTimeField(
        default=timezone.now, editable=False, help_text="when the revision was last raised"
    )

    class Meta:
        constraints = [
            at_least_zero(
                "list_money_at_least_0",
                "budget",
                "survey_fee_per_m",
                "survey_fee_minimum",
                "survey_lift_out",
                "transport",
                "registration",
                "yard_hourly_rate",
                "own_hour_value",
            ),
            models.CheckConstraint(
                condition=Q(required_confidence__gte=Decimal("0.5"))
                & Q(required_confidence__lte=Decimal("0.99")),
                name="list_confidence_between_half_and_99",
            ),
            models.CheckConstraint(
                condition=Q(tax_rate__gte=0) & Q(tax_rate__lte=1), name="list_tax_rate_0_to_1"
            ),
            models.CheckConstraint(
                condition=Q(reserve_rate__gte=0) & Q(reserve_rate__lte=1),
                name="list_reserve_rate_0_to_1",
            ),
            models.CheckConstraint(
                condition=Q(expected_price_share__gt=0)
                & Q(expected_price_share__lte=Decimal("1.5"))
                & Q(expected_price_share_sd__gte=0)
                & Q(expected_price_share_sd__lte=Decimal("0.5")),
                name="list_expected_price_share_sensible",
            ),
            models.CheckConstraint(
                condition=Q(money_off_chance__gte=0) & Q(money_off_chance__lte=1),
                name="list_money_off_chance_0_to_1",
            ),
        ]

    def __str__(self) -> str:
        return self.name
