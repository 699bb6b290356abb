import uuid
from typing import Any, ClassVar

from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.accounts.models import ThroughClient
from apps.boats.models import Candidate
from apps.common.models import Versioned
from apps.jobs.models import StorageJob


class Media(Versioned, ThroughClient, StorageJob):
    """A file that somebody sent. It never changes; it can be removed."""

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
    # Its word in events, links and tasks, and the records that these need.
    WORD: ClassVar[str]
    RELATED: ClassVar[tuple[str, ...]]
    # The setting with the largest size of its file.
    LARGEST_BYTES: ClassVar[str] = "PHOTO_LARGEST_BYTES"
    # Whether a browser is told to save its file and not to open it.
    FOR_DOWNLOAD: ClassVar[bool] = False

    group = models.ForeignKey("groups.Group", on_delete=models.CASCADE, related_name="+")
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
    def forms_made(self) -> tuple[str, ...]:
        """The forms that a job makes from the original."""
        return tuple(form for form in self.FORMS if form != "original")

    @property
    def forms_kept(self) -> tuple[str, ...]:
        """The forms to keep: the original until it was read, then the new files; none if rejected.

        The original stays if the reason why it could not be read may lie elsewhere.
        """
        if self.fault == self.Fault.GAVE_UP:
            return ("original",)
        match self.state:
            case self.State.PROCESSING:
                return ("original", *self.forms_made)
            case self.State.READY:
                return self.forms_made
        return ()

    @property
    def forms_required(self) -> tuple[str, ...]:
        """The forms that cannot be made again from another one; a backup needs no others."""
        return ("original",) if self.state == self.State.PROCESSING else self.forms_kept

    def key(self, form: str) -> str:
        """The storage's key of the file in this form."""
        return f"{self.group_id}/{self.pk}-{form}{self.FORMS[form]}"

    @property
    def surplus_keys(self) -> list[str]:
        """The storage's keys of its files that are no longer needed."""
        return [self.key(form) for form in self.FORMS if form not in self.forms_kept]

    @property
    def of(self) -> Candidate:
        """The boat that it shows or sounds like."""
        raise NotImplementedError

    @property
    def only_for(self) -> uuid.UUID | None:
        """A person, if nobody else may see it yet."""
        return None

    @property
    def facts(self) -> dict[str, Any]:
        """What belongs to it, for events."""
        raise NotImplementedError

    @property
    def fields_sent(self) -> tuple[Any, ...]:
        """What was sent beside the file, by which a repeat is recognised."""
        raise NotImplementedError


class VisitMedia(Media):
    """A file from a visit."""

    RELATED = ("viewing__candidate__list", "submission")

    viewing = models.ForeignKey(
        "viewings.Viewing", on_delete=models.CASCADE, related_name="%(class)ss"
    )
    submission: Any
    submission_id: Any
    checkpoint_id: Any

    class Meta:
        abstract = True

    @property
    def of(self) -> Candidate:
        return self.viewing.candidate

    @property
    def only_for(self) -> uuid.UUID | None:
        """Only its author sees a draft."""
        if self.submission is None or self.submission.submitted_at is not None:
            return None
        author: uuid.UUID = self.submission.author_id
        return author

    @property
    def facts(self) -> dict[str, Any]:
        return {
            "viewing": str(self.viewing_id),
            "submission": str(self.submission.pk) if self.submission else None,
            "checkpoint": self.checkpoint_id,
        }

    @property
    def fields_sent(self) -> tuple[Any, ...]:
        return (self.viewing_id, self.submission_id, self.checkpoint_id, self.note)


class ReadPicture(models.Model):
    """What is known of a picture once it was read."""

    width = models.PositiveIntegerField(null=True, help_text="pixels")
    height = models.PositiveIntegerField(null=True, help_text="pixels")
    taken_at = models.DateTimeField(null=True, help_text="by the camera's clock, if it says where")

    class Meta:
        abstract = True


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


def picture_constraints() -> list[models.BaseConstraint]:
    return [
        *media_constraints(),
        models.CheckConstraint(
            condition=~Q(state="ready") | (Q(width__gt=0) & Q(height__gt=0)),
            name="%(class)s_ready_has_a_size",
        ),
    ]


def media_indexes() -> list[models.Index]:
    """Indexes for the sweep, which looks for unread files."""
    return [
        models.Index(
            fields=["leased_until"], condition=Q(state="processing"), name="%(class)s_processing"
        )
    ]


PICTURE_FORMS = {"original": "", "image": ".jpg", "thumbnail": ".jpg"}


class SellerPhoto(ReadPicture, Media):
    """A picture of a boat from her seller. It shows what the seller chose to show: no finding, and
    no result depends on it.
    """

    class Source(models.TextChoices):
        ADVERT = "advert", "an advert"
        SELLER = "seller", "the seller"
        BROKER = "broker", "a broker"

    FORMS = PICTURE_FORMS
    WORD = "seller_photo"
    RELATED = ("candidate__list",)

    candidate = models.ForeignKey(
        "boats.Candidate", on_delete=models.CASCADE, related_name="seller_photos"
    )
    source = models.CharField(max_length=6, choices=Source.choices)
    dated_on = models.DateField(help_text="when the seller showed or sent it")

    class Meta:
        constraints = [
            *picture_constraints(),
            models.CheckConstraint(
                condition=Q(source__in=("advert", "seller", "broker")),
                name="seller_photo_says_where_it_is_from",
            ),
        ]
        indexes = media_indexes()

    def __str__(self) -> str:
        return f"photo of {self.candidate_id} from {self.get_source_display()}"

    @property
    def of(self) -> Candidate:
        return self.candidate

    @property
    def facts(self) -> dict[str, Any]:
        return {"source": self.source}

    @property
    def fields_sent(self) -> tuple[Any, ...]:
        return (self.candidate_id, self.source, self.dated_on, self.note)


class Photo(ReadPicture, VisitMedia):
    """A picture of a finding, of a submission as a whole, or of a visit."""

    FORMS = PICTURE_FORMS
    WORD = "photo"

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

    class Meta:
        constraints = [
            *picture_constraints(),
            models.CheckConstraint(
                condition=~Q(submission=None) | Q(checkpoint=None),
                name="photo_of_a_finding_is_in_a_submission",
            ),
        ]
        indexes = media_indexes()

    def __str__(self) -> str:
        return f"photo of {self.checkpoint_id or self.viewing_id}"


class Sound(VisitMedia):
    """A recording of taps, with their measurements."""

    class Purpose(models.TextChoices):
        CHECK = "check", "of the place in question"
        REFERENCE = "reference", "of a place on the same boat that is known to be sound"

    FORMS = {"original": "", "recording": ".flac"}
    WORD = "sound"
    LARGEST_BYTES = "SOUND_LARGEST_BYTES"

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

    @property
    def fields_sent(self) -> tuple[Any, ...]:
        return (*super().fields_sent, self.purpose)
