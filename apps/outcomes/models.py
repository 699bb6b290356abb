from django.db import models
from django.db.models import Q

from apps.groups.models import Club, Group
from apps.reckoning.disclosure import FEWEST


class ClubOutcomes(models.Model):
    """The last computation of a club's statistics: its inputs and its time."""

    club = models.OneToOneField(
        Club, primary_key=True, on_delete=models.CASCADE, related_name="club_outcomes"
    )
    digest = models.CharField(
        max_length=64,
        blank=True,
        help_text="of the inputs of the last computation; empty: compute again",
    )
    edition = models.PositiveIntegerField(help_text="of the catalogue's base")
    club_edition = models.PositiveIntegerField(
        default=0, help_text="of the club's own catalogue; 0: none"
    )
    method = models.CharField(max_length=40)
    computed_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"statistics of {self.club_id}"


class OutcomesTable(models.Model):
    """One quantity of one checkpoint or remedy: over all boats, and by kind of boat.

    `basis` has the data behind its figures, boat by boat; no answer shows it. It records what was
    published, because figures before and after a change would reveal the change. For a group that
    stopped sharing it keeps only which sums its boats were in, and no values.
    """

    class Kind(models.TextChoices):
        FOUND = "found", "how often surveys found it defective or worse"
        CAUGHT = "caught", "where it was, how often a quick look had reported it"
        CLEARED = "cleared", "where it was not, how often no quick look had reported it"
        DIFFERENCE = "difference", "quick looks less the survey, in levels"
        COST = "cost", "what was paid over the estimate"

    club = models.ForeignKey(Club, on_delete=models.CASCADE, related_name="outcomes_tables")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    subject = models.SlugField(max_length=60, help_text="code of the checkpoint, or the remedy")
    area = models.SlugField(max_length=60, help_text="of the boat")
    basis = models.JSONField(default=dict)
    disclosed_at = models.DateTimeField(help_text="when it was last published anew")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["club", "kind", "subject"], name="one_outcomes_table_of_a_kind"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject}"


class OutcomesFigure(models.Model):
    """One published figure, over all boats (`by` empty) or over one kind."""

    table = models.ForeignKey(OutcomesTable, on_delete=models.CASCADE, related_name="figures")
    by = models.CharField(max_length=15, blank=True, help_text="by what boats are divided")
    value = models.CharField(max_length=15, blank=True, help_text="which of them these are")
    groups = models.PositiveIntegerField(help_text="how many are behind it")
    boats = models.PositiveIntegerField(help_text="how many of theirs")
    figure = models.FloatField()
    low = models.FloatField(help_text="end of the 80% interval")
    high = models.FloatField()
    expected = models.FloatField(null=True, help_text="by the catalogue, if it expects any")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["table", "by", "value"], name="one_outcomes_figure_of_a_kind_of_boats"
            ),
            models.CheckConstraint(
                condition=Q(groups__gte=FEWEST) & Q(boats__gte=FEWEST),
                name="outcomes_figure_from_three_groups_at_least",
            ),
            models.CheckConstraint(
                condition=Q(low__lte=models.F("figure")) & Q(figure__lte=models.F("high")),
                name="outcomes_figure_within_its_interval",
            ),
            models.CheckConstraint(
                condition=(Q(by="") & Q(value="")) | (~Q(by="") & ~Q(value="")),
                name="outcomes_figure_of_all_or_of_a_kind",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.figure} of {self.boats} boats"


class GroupOutcomes(models.Model):
    """The adjustments of one sharing group's estimates by the club's statistics.

    They come only from the boats of other groups, at least three. Because they are other groups'
    data, they are visible only through the results of the group's own lists.
    """

    group = models.OneToOneField(
        Group, primary_key=True, on_delete=models.CASCADE, related_name="club_outcomes"
    )
    edition = models.PositiveIntegerField(help_text="of the catalogue's base")
    club_edition = models.PositiveIntegerField(
        default=0, help_text="of the club's own catalogue; 0: none"
    )
    method = models.CharField(max_length=40)
    computed_at = models.DateTimeField()
    groups = models.PositiveIntegerField(help_text="how many others are behind it, at most")
    boats = models.PositiveIntegerField(help_text="how many of theirs, at most")
    shifts = models.JSONField(help_text="of levels, by checkpoint and kind of boats")
    factors = models.JSONField(help_text="on prices, by remedy: median and spread")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(groups__gte=FEWEST), name="group_outcomes_from_three_others_at_least"
            ),
        ]

    def __str__(self) -> str:
        return f"statistics of {self.groups} groups for {self.group_id}"
