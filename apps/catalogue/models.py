"""Editions of the catalogue and their entries. Codes are stable slugs and the primary keys.

content.py defines the meaning and the limits of each column under the same name.
"""

from typing import Any

from django.db import models
from django.db.models import F, Q
from uuid_utils.compat import uuid7

from apps.catalogue import vocabulary
from apps.catalogue.cost_models import Coded, Enabling, Priced
from apps.catalogue.own.models import CatalogueChange  # noqa: F401 (a model of this app too)


class Edition(models.Model):
    """One load of the catalogue that changed something, with the basis of its money."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    number = models.PositiveIntegerField(unique=True)
    digest = models.CharField(max_length=64)
    loaded_at = models.DateTimeField(auto_now_add=True)
    base_year = models.PositiveSmallIntegerField()
    currency = models.CharField(max_length=3)
    reference_loa_m = models.FloatField()
    yard_rate_low = models.FloatField()
    yard_rate_likely = models.FloatField()
    yard_rate_high = models.FloatField()
    price_index = models.JSONField(help_text="year to index of prices")
    questions = models.JSONField(
        default=list, help_text="what to ask a seller besides the checkpoints' questions"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(number__gte=1) & Q(reference_loa_m__gt=0), name="edition_counts_from_1"
            ),
            models.CheckConstraint(
                condition=Q(yard_rate_low__gte=0)
                & Q(yard_rate_low__lte=F("yard_rate_likely"))
                & Q(yard_rate_likely__lte=F("yard_rate_high")),
                name="edition_yard_rate_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"edition {self.number}"


class Area(Coded):
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ("position",)


class Caution(Coded):
    """What may hurt the person who looks."""

    position = models.PositiveSmallIntegerField()
    text = models.TextField()
    defer_to = models.CharField(max_length=300)

    class Meta:
        ordering = ("position",)


class Scale(Coded):
    """How a measured value gives a level."""

    unit = models.CharField(max_length=20)
    rising = models.BooleanField(default=True)
    lowest = models.FloatField()
    highest = models.FloatField()
    breaks = models.JSONField()
    grades = models.JSONField(default=list)
    source = models.CharField(max_length=400)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(lowest__lt=F("highest")), name="scale_range_in_order"
            )
        ]


class Version(models.Model):
    """The content of a checkpoint or a remedy from one edition on. It never changes."""

    number = models.PositiveIntegerField()
    edition = models.ForeignKey(Edition, on_delete=models.PROTECT, related_name="+")
    digest = models.CharField(max_length=64)
    title = models.CharField(max_length=200)

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError("a version never changes: make the next one")
        super().save(*args, **kwargs)


class Remedy(models.Model):
    """A thing to repair; without a current version it is retired."""

    code = models.SlugField(primary_key=True, max_length=60)
    current = models.OneToOneField(
        "RemedyVersion", null=True, on_delete=models.PROTECT, related_name="current_of"
    )

    class Meta:
        verbose_name_plural = "remedies"

    def __str__(self) -> str:
        return self.code


class RemedyVersion(Version, Priced):
    remedy = models.ForeignKey(Remedy, on_delete=models.PROTECT, related_name="versions")
    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="+")
    count = models.CharField(max_length=60, blank=True)
    enabling = models.ManyToManyField(Enabling, related_name="+")
    own_work = models.BooleanField()
    own_hours_factor = models.FloatField(default=vocabulary.OWN_HOURS_FACTOR)
    urgency = models.CharField(max_length=5)
    by_price = models.BooleanField(default=False)
    variants = models.JSONField(default=list)

    class Meta(Priced.Meta):
        constraints = [
            *Priced.Meta.constraints,
            models.UniqueConstraint(fields=["remedy", "number"], name="remedy_version_once"),
            models.CheckConstraint(
                condition=Q(number__gte=1) & Q(own_hours_factor__gte=1),
                name="remedy_version_numbers_sensible",
            ),
            models.CheckConstraint(
                condition=Q(urgency__in=vocabulary.URGENCIES), name="remedy_version_urgency_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.remedy_id} version {self.number}"


class Checkpoint(models.Model):
    """A thing to look at; without a current version it is retired."""

    code = models.SlugField(primary_key=True, max_length=60)
    current = models.OneToOneField(
        "CheckpointVersion", null=True, on_delete=models.PROTECT, related_name="current_of"
    )

    def __str__(self) -> str:
        return self.code


class CheckpointVersion(Version):
    """The content of a checkpoint: the base's, or a club's or a group's for their own waters."""

    club = models.ForeignKey(
        "groups.Club", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    group = models.ForeignKey(
        "groups.Group", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    own = models.JSONField(
        null=True, blank=True, help_text="the whole entry as its owner wrote it; null for the base"
    )
    checkpoint = models.ForeignKey(Checkpoint, on_delete=models.PROTECT, related_name="versions")
    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()
    look = models.TextField()
    tools = models.JSONField(default=list)
    levels = models.JSONField()
    concerns = models.JSONField()
    weight = models.FloatField()
    walk_away_level = models.PositiveSmallIntegerField(null=True)
    cautions = models.ManyToManyField(Caution, related_name="+")
    prevented_by = models.JSONField(default=list)
    hampered_by = models.JSONField(default=list)
    place = models.CharField(max_length=12, default=vocabulary.USUAL_PLACE)
    priority = models.PositiveSmallIntegerField(default=vocabulary.USUAL_PRIORITY)
    minutes = models.PositiveSmallIntegerField(default=vocabulary.USUAL_MINUTES)
    ask = models.CharField(max_length=300, blank=True)
    professional = models.CharField(max_length=20, blank=True)
    professional_from = models.PositiveSmallIntegerField()
    professional_only = models.BooleanField(default=False)
    receipt_clears = models.BooleanField(default=False)
    # The belief before anybody looked: model.md 1.
    mu = models.FloatField()
    age = models.FloatField()
    care = models.FloatField()
    sd = models.FloatField()
    ages_with = models.CharField(max_length=20)
    breakage = models.FloatField(default=vocabulary.BREAKAGE)
    applies = models.JSONField(default=dict)
    measure_name = models.CharField(max_length=60, blank=True)
    measure_unit = models.CharField(max_length=20, blank=True)
    measure_scale = models.ForeignKey(Scale, null=True, on_delete=models.PROTECT, related_name="+")
    tags = models.JSONField(default=list)
    source = models.CharField(max_length=400)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["checkpoint", "number"],
                condition=Q(club=None, group=None),
                name="checkpoint_version_once",
            ),
            models.UniqueConstraint(
                fields=["club", "checkpoint", "number"], name="clubs_checkpoint_version_once"
            ),
            models.UniqueConstraint(
                fields=["group", "checkpoint", "number"], name="groups_checkpoint_version_once"
            ),
            models.CheckConstraint(
                condition=Q(club=None, group=None, own=None)
                | (Q(group=None, own__isnull=False) & ~Q(club=None))
                | (Q(club=None, own__isnull=False) & ~Q(group=None)),
                name="checkpoint_version_of_the_base_or_of_one_owner",
            ),
            models.CheckConstraint(
                condition=Q(number__gte=1) & Q(weight__gte=0.5) & Q(weight__lte=5),
                name="checkpoint_version_weight_half_to_5",
            ),
            models.CheckConstraint(
                condition=Q(professional_from__lte=4)
                & (
                    Q(walk_away_level=None)
                    | (Q(walk_away_level__gte=1) & Q(walk_away_level__lte=4))
                ),
                name="checkpoint_version_levels_0_to_4",
            ),
            models.CheckConstraint(
                condition=Q(place__in=vocabulary.PLACES)
                & Q(priority__in=vocabulary.PRIORITIES)
                & Q(minutes__gte=1),
                name="checkpoint_version_where_and_when_known",
            ),
            models.CheckConstraint(
                condition=Q(professional_only=False) | ~Q(professional=""),
                name="checkpoint_version_says_which_professional",
            ),
            models.CheckConstraint(
                condition=Q(mu__gte=-2, mu__lte=4, sd__gt=0, breakage__gte=0, breakage__lte=0.5),
                name="checkpoint_version_belief_sensible",
            ),
            models.CheckConstraint(
                condition=Q(ages_with__in=vocabulary.AGES_WITH),
                name="checkpoint_version_ages_with_known",
            ),
            models.CheckConstraint(
                condition=(Q(measure_scale=None) & Q(measure_name="") & Q(measure_unit=""))
                | (~Q(measure_scale=None) & ~Q(measure_name="") & ~Q(measure_unit="")),
                name="checkpoint_version_measure_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.checkpoint_id} version {self.number}"

    @property
    def whose(self) -> str:
        """Its owner: "base", "club" or "group"."""
        if self.group_id is not None:
            return "group"
        return "base" if self.club_id is None else "club"


class CheckpointRemedy(models.Model):
    """The chance that each level calls for a remedy, and the extent."""

    version = models.ForeignKey(
        CheckpointVersion, on_delete=models.PROTECT, related_name="remedy_triggers"
    )
    remedy = models.ForeignKey(Remedy, on_delete=models.PROTECT, related_name="+")
    probability = models.JSONField()
    extent = models.JSONField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["version", "remedy"], name="remedy_triggered_once_per_version"
            )
        ]
        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.version_id} calls for {self.remedy_id}"
