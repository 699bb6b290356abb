from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from apps.boats.list_models import at_least_zero, money_field
from apps.boats.models import Candidate
from apps.catalogue.models import Remedy
from apps.common.models import Versioned

MOST_HOURS = 1000  # of own work in a month
LONGEST = 24  # months of a season


class SeasonSettings(Versioned):
    """What bounds the work on a boat: months, own hours, the yard's months, money.

    lift_months, sailing_months: months of the year, 1 to 12. estimates: what each remedy was
    estimated at when these settings were first stored with it on the list; bills are compared with
    it. Money is in the list's currency.
    """

    candidate = models.OneToOneField(
        Candidate, on_delete=models.CASCADE, related_name="season_settings"
    )
    first_month = models.DateField(help_text="the first day of the first month")
    months = models.PositiveSmallIntegerField(
        default=12, validators=[MinValueValidator(1), MaxValueValidator(LONGEST)]
    )
    own_hours = models.PositiveSmallIntegerField(
        default=0,
        validators=[MaxValueValidator(MOST_HOURS)],
        help_text="that the group has in a month for work on her",
    )
    ashore = models.BooleanField(default=False, help_text="whether she stands ashore at the start")
    lift_months = models.JSONField(default=list, help_text="in which the yard lifts and launches")
    sailing_months = models.JSONField(default=list, help_text="in which she is to be afloat")
    most_a_month = money_field(null=True, blank=True)
    resale = money_field(null=True, blank=True, help_text="expected when the years are over")
    estimates = models.JSONField(default=dict)
    changed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="seasons_changed"
    )

    class Meta:
        constraints = [
            at_least_zero("season_money_at_least_0", "most_a_month", "resale"),
            models.CheckConstraint(
                condition=Q(months__gte=1, months__lte=LONGEST), name="season_has_months"
            ),
        ]

    def __str__(self) -> str:
        return f"season of {self.candidate_id}"


class WorkDecision(Versioned):
    """What the group decided about one remedy, in place of what its chance says."""

    class Choice(models.TextChoices):
        PLAN = "plan", "do it this season"
        LEAVE = "leave", "leave it"
        DONE = "done", "it is done"

    candidate = models.ForeignKey(
        Candidate, on_delete=models.CASCADE, related_name="work_decisions"
    )
    remedy = models.ForeignKey(Remedy, on_delete=models.PROTECT, related_name="work_decisions")
    choice = models.CharField(max_length=5, choices=Choice.choices)
    note = models.CharField(max_length=500, blank=True)
    changed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="work_decided"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=("candidate", "remedy"), name="work_decided_once_for_each_remedy"
            )
        ]

    def __str__(self) -> str:
        return f"{self.choice}: {self.remedy_id}"
