from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.common.models import Versioned
from apps.groups.models import Group
from apps.jobs.models import StorageJob


class Archiving(StorageJob):
    """The common base of exports and imports."""

    UNFINISHED = Q(state="waiting")

    class Meta:
        abstract = True

    @property
    def failing(self) -> bool:
        """The last attempt failed in the service; it is tried again."""
        return self.failing_since is not None


class Export(Versioned, Archiving):
    """An archive of one group's data, or of one person's, that somebody asked for."""

    class State(models.TextChoices):
        WAITING = "waiting", "to be made"
        READY = "ready", "ready to be fetched"
        FAILED = "failed", "could not be made"
        EXPIRED = "expired", "not kept any more"

    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="exports"
    )
    group = models.ForeignKey(
        Group, null=True, blank=True, on_delete=models.CASCADE, related_name="exports"
    )
    state = models.CharField(max_length=7, choices=State.choices, default=State.WAITING)
    counts = models.JSONField(default=dict, help_text="rows of each kind")
    left_out = models.JSONField(default=dict, help_text="what the asker may not see, counted")
    size_bytes = models.PositiveBigIntegerField(null=True)
    digest = models.CharField(max_length=64, blank=True, help_text="SHA-256 of the file")
    expires_at = models.DateTimeField(null=True, help_text="when the file is removed")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(state="ready") | (~Q(expires_at=None) & ~Q(digest="")),
                name="export_ready_says_of_what_and_until_when",
            ),
        ]
        indexes = [
            models.Index(
                fields=["leased_until"], condition=Q(state="waiting"), name="exports_waiting"
            ),
        ]

    def __str__(self) -> str:
        return f"export of {self.group_id or self.asked_by_id}"

    @property
    def key(self) -> str:
        return f"archives/export-{self.pk}.zip"


class Import(Versioned, Archiving):
    """An archive that somebody sends to make a new group."""

    class State(models.TextChoices):
        UPLOAD = "upload", "the file is to be sent"
        WAITING = "waiting", "the file is there, to be read"
        DONE = "done", "the group is there"
        REFUSED = "refused", "the file cannot be accepted; nothing was stored"
        FAILED = "failed", "it could not be read after several tries"
        EXPIRED = "expired", "no file came"

    asked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="imports"
    )
    name = models.CharField(max_length=120, blank=True, help_text="of the group, if another one")
    state = models.CharField(max_length=7, choices=State.choices, default=State.UPLOAD)
    group = models.ForeignKey(
        Group, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    # The progress, with what decides ids and people, so that it can continue after a crash.
    begun_at = models.DateTimeField(null=True, editable=False)
    recognised = models.JSONField(null=True, editable=False, help_text="ids here by theirs")
    newcomers = models.JSONField(
        default=list, editable=False, help_text="ids of who is only a name"
    )
    wordings = models.JSONField(default=list, editable=False, help_text="ids of those stored")
    stored = models.PositiveIntegerField(default=0, editable=False, help_text="rows so far")
    faults = models.JSONField(default=list, help_text="file, line, field, code, detail")
    notes = models.JSONField(default=list, help_text="what is not as it was, in words")
    counts = models.JSONField(default=dict, help_text="rows of each kind")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(state="refused") | ~Q(faults=[]), name="refused_import_says_why"
            ),
        ]
        indexes = [
            models.Index(
                fields=["leased_until"], condition=Q(state="waiting"), name="imports_waiting"
            ),
        ]

    def __str__(self) -> str:
        return f"import by {self.asked_by_id}"

    @property
    def key(self) -> str:
        return f"archives/import-{self.pk}.zip"
