from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.common.models import Versioned


class CatalogueChange(Versioned):
    """A club's or a group's change of one thing, kept for good. It begins the owner's next edition.

    The latest change of each kind and code holds. A checkpoint's words are in its version.
    """

    class Kind(models.TextChoices):
        CHECKPOINTS = "checkpoints", "checkpoints"
        REMEDIES = "remedies", "remedies"
        ENABLING = "enabling-work", "enabling work"
        CAUTIONS = "cautions", "cautions"
        FEES = "fees", "fees"
        RUNNING = "running-costs", "running costs"
        RATES = "rates", "rates"

    class State(models.TextChoices):
        OWN = "own", "changed, or added"
        LEFT_OUT = "left_out", "left out"
        TAKEN_BACK = "taken_back", "as the underlying layer has it"

    club = models.ForeignKey(
        "groups.Club", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    group = models.ForeignKey(
        "groups.Group", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    number = models.PositiveIntegerField(help_text="number of the owner's edition that it begins")
    kind = models.CharField(max_length=15, choices=Kind.choices)
    code = models.SlugField(max_length=60)
    state = models.CharField(max_length=10, choices=State.choices)
    own = models.JSONField(null=True, blank=True, help_text="the entry; null for a checkpoint")
    checkpoint_version = models.ForeignKey(
        "catalogue.CheckpointVersion",
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
    )
    # The money of its figures: the base's at the time.
    base_year = models.PositiveSmallIntegerField()
    currency = models.CharField(max_length=3)
    reference_loa_m = models.FloatField()
    note = models.CharField(max_length=1000, blank=True, help_text="the reason and the source")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ("id",)
        constraints = [
            models.CheckConstraint(
                condition=(Q(club=None) & ~Q(group=None)) | (~Q(club=None) & Q(group=None)),
                name="catalogue_change_of_one_owner",
            ),
            models.UniqueConstraint(fields=["club", "number"], name="clubs_edition_once"),
            models.UniqueConstraint(fields=["group", "number"], name="groups_edition_once"),
            models.CheckConstraint(
                condition=Q(number__gte=1) & Q(reference_loa_m__gt=0),
                name="catalogue_change_counts_from_1",
            ),
            models.CheckConstraint(
                condition=Q(
                    kind__in=(
                        "checkpoints",
                        "remedies",
                        "enabling-work",
                        "cautions",
                        "fees",
                        "running-costs",
                        "rates",
                    )
                ),
                name="catalogue_change_of_a_known_kind",
            ),
            models.CheckConstraint(
                condition=(
                    Q(state="own", kind="checkpoints", own=None) & ~Q(checkpoint_version=None)
                )
                | (
                    Q(state="own", own__isnull=False, checkpoint_version=None)
                    & ~Q(kind="checkpoints")
                )
                | Q(state__in=("left_out", "taken_back"), own=None, checkpoint_version=None),
                name="catalogue_change_says_something_if_own",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.code}: {self.state}"
