from typing import ClassVar

from django.db import models
from django.db.models import Q


class Job(models.Model):
    """The state of the background work on one record: its lease and its last attempts.

    leased_by is the holder, who works on it; the lease expires if the holder dies. attempts is the
    number of failures in a row, failing_since the time of the first of them. There is no other
    attempt before next_attempt_at.
    """

    # The records that have work to do, now or later.
    UNFINISHED: ClassVar[Q] = Q()

    leased_by = models.UUIDField(null=True, blank=True)
    leased_until = models.DateTimeField(null=True, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    last_error = models.TextField(blank=True)
    failing_since = models.DateTimeField(null=True, blank=True)
    next_attempt_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        abstract = True


class StorageJob(Job):
    """A job that needs the file storage; while that is away it waits and counts no attempts."""

    storage_failing_since = models.DateTimeField(
        null=True,
        editable=False,
        help_text="the storage cannot be reached or is full since then; it is tried again",
    )

    class Meta:
        abstract = True


def field_names(kind: type[models.Model]) -> tuple[str, ...]:
    """The names of a job's fields from this base."""
    return tuple(field.name for field in kind._meta.local_fields)
