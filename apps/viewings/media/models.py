from typing import ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.accounts.models import ThroughClient
from apps.common.models import Versioned
from apps.jobs.models import StorageJob


class Media(Versioned, ThroughClient, StorageJob):
    """A file that somebody sent from a visit. It never changes; it can be removed."""

    class State(models.TextChoices):
        PROCESSING = "processing", "being read"
        READY = "ready", "ready"
        REJECTED = "rejected", "rejected"

    class Fault(models.TextChoices):
        """Why a file was rejected."""

        DAMAGED = "damaged", "The file is damaged."
        TOO_MANY_PIXELS = "too_many_pixels", "The picture has too many pixels."
        TOO_LONG = "too_long", "The recording is too long."
        TOO_SHORT = "too_short", "The recording is too short."
        WRONG_RATE = "wrong_rate", "The recording has a sample rate that cannot be measured."
        WRONG_CHANNELS = "wrong_channels", "The recording has more than two channels."
        GAVE_UP = "gave_up", "The file could not be read after several tries."

    UNFINISHED = Q(state="processing")
    # All forms in which its file is kept, with their file extensions.
    FORMS: ClassVar[dict[str, str]] = {"original": ""}

    group = models.ForeignKey("groups.Group", on_delete=models.CASCADE, related_name="+")
    viewing = models.ForeignKey(
        "viewings.Viewing", on_delete=models.CASCADE, related_name="%(class)ss"
    )
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    note = models.CharField(max_length=300, blank=True)
    state = models.CharField(max_length=10, choices=State.choices, default=State.PROCESSING)
    fault = models.CharField(max_length=20, blank=True, choices=Fault.choices)
    made_from = models.CharField(
        max_length=64,
        editable=False,
        help_text="digest of the request that made it, to recognise a repeat",
    )

    class Meta:
        abstract = True

    @property
    def forms_kept(self) -> tuple[str, ...]:
        """The forms to keep: the original until it was read, then the new files; none if rejected.

        The original stays if the reason why it could not be read may lie elsewhere.
        """
        if self.fault == self.Fault.GAVE_UP:
            return ("original",)
        match self.state:
            case self.State.PROCESSING:
                return tuple(self.FORMS)
            case self.State.READY:
                return tuple(form for form in self.FORMS if form != "original")
        return ()

    def key(self, form: str) -> str:
        """The storage's key of the file in this form."""
        return f"{self.group_id}/{self.pk}-{form}{self.FORMS[form]}"

    @property
    def surplus_keys(self) -> list[str]:
        """The storage's keys of its files that are no longer needed."""
        return [self.key(form) for form in self.FORMS if form not in self.forms_kept]


class OrphanFile(models.Model):
    """A file in the storage that no record needs, with the time when it was noticed."""

    key = models.CharField(max_length=200, unique=True)
    found_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return self.key


def media_constraints() -> list[models.BaseConstraint]:
    return [
        models.CheckConstraint(
            condition=(Q(state="rejected") & ~Q(fault="")) | (~Q(state="rejected") & Q(fault="")),
            name="%(class)s_says_why_it_was_rejected",
        ),
    ]


def media_indexes() -> list[models.Index]:
    """Indexes for the sweep, which looks for unread files."""
    return [
        models.Index(
            fields=["leased_until"], condition=Q(state="processing"), name="%(class)s_processing"
        )
    ]


class Photo(Media):
    """A picture of a finding, of a submission as a whole, or of a visit."""

    FORMS = {"original": "", "image": ".jpg", "thumbnail": ".jpg"}

    submission = models.ForeignKey(
        "viewings.Submission",
        null=True,
        blank=True,
        on_delete=models.CASCADE,
        related_name="photos",
    )
    checkpoint = models.ForeignKey(
        "catalogue.Checkpoint", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    width = models.PositiveIntegerField(null=True, help_text="pixels")
    height = models.PositiveIntegerField(null=True, help_text="pixels")
    taken_at = models.DateTimeField(null=True, help_text="by the camera's clock, if it says where")

    class Meta:
        constraints = [
            *media_constraints(),
            models.CheckConstraint(
                condition=~Q(submission=None) | Q(checkpoint=None),
                name="photo_of_a_finding_is_in_a_submission",
            ),
            models.CheckConstraint(
                condition=~Q(state="ready") | (Q(width__gt=0) & Q(height__gt=0)),
                name="photo_ready_has_a_size",
            ),
        ]
        indexes = media_indexes()

    def __str__(self) -> str:
        return f"photo of {self.checkpoint_id or self.viewing_id}"


class Sound(Media):
    """A recording of taps, with their measurements."""

    class Purpose(models.TextChoices):
        CHECK = "check", "of the place in question"
        REFERENCE = "reference", "of a place on the same boat that is known to be sound"

    FORMS = {"original": "", "recording": ".flac"}

    submission = models.ForeignKey(
        "viewings.Submission", on_delete=models.CASCADE, related_name="sounds"
    )
    checkpoint = models.ForeignKey(
        "catalogue.Checkpoint", on_delete=models.PROTECT, related_name="+"
    )
    purpose = models.CharField(max_length=10, choices=Purpose.choices, default=Purpose.CHECK)
    duration_s = models.FloatField(null=True)
    rate_hz = models.PositiveIntegerField(null=True)
    # One object for each tap: at_s, decay_s (null: unknown), frequency_hz, peak_db,
    # range_db, clipped; see apps/reckoning/sound.py.
    taps = models.JSONField(default=list)

    class Meta:
        constraints = [
            *media_constraints(),
            models.CheckConstraint(
                condition=~Q(state="ready") | (Q(duration_s__gt=0) & Q(rate_hz__gt=0)),
                name="sound_ready_has_a_length",
            ),
        ]
        indexes = media_indexes()

    def __str__(self) -> str:
        return f"{self.purpose} taps on {self.checkpoint_id}"
