"""Records that other programs rely on: versions, remembered answers, events in commit order."""

import uuid

from django.conf import settings
from django.db import models
from uuid_utils.compat import uuid7

from apps.exchange.errors import Stale


class Versioned(models.Model):
    """A shared record: a UUIDv7 that a client may bring, and a version that changes raise."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    version = models.PositiveIntegerField(default=1, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    updated_at = models.DateTimeField(auto_now=True)

    class Meta:
        abstract = True

    @property
    def etag(self) -> str:
        return f'"{self.id}-{self.version}"'

    def save_changes(self, *, expected_version: int | None = None, fields: list[str]) -> None:
        """Store the named fields and raise the version, only if nobody else did so meanwhile.

        `expected_version` is what the caller read (If-Match); None trusts the row as loaded.
        Raises `Stale` if the stored version is another one.
        """
        seen = self.version if expected_version is None else expected_version
        claimed = type(self)._base_manager.filter(pk=self.pk, version=seen).update(version=seen + 1)
        if not claimed:
            raise Stale
        self.version = seen + 1
        self.save(update_fields=[*fields, "updated_at"])


class RememberedAnswer(models.Model):
    """The first answer to a write with an Idempotency-Key, given again to every repeat."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    principal = models.UUIDField(help_text="who sent it: keys of two principals never meet")
    key = models.CharField(max_length=255)
    method = models.CharField(max_length=10)
    path = models.CharField(max_length=500)
    body_digest = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(null=True)
    headers = models.JSONField(default=dict)
    body = models.TextField(default="")
    created_at = models.DateTimeField(auto_now_add=True, db_index=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["principal", "key"], name="one_answer_per_key"),
        ]

    def __str__(self) -> str:
        return f"{self.method} {self.path} ({self.key})"


class GroupClock(models.Model):
    """The last event number of a group; its row lock makes number order equal commit order."""

    group = models.UUIDField(primary_key=True)
    last = models.PositiveBigIntegerField(default=0)
    forgotten = models.PositiveBigIntegerField(
        default=0, help_text="events up to this number are not kept any more"
    )

    def __str__(self) -> str:
        return f"{self.group} at {self.last}"


class Event(models.Model):
    """One change, written in the transaction that made it: the outbox and the change feed."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    group = models.UUIDField()
    number = models.PositiveBigIntegerField()
    kind = models.CharField(max_length=60, help_text="what happened, e.g. submission.submitted")
    thing = models.CharField(max_length=40, help_text="kind of record, e.g. submission")
    thing_id = models.UUIDField(default=uuid.uuid4)
    thing_version = models.PositiveIntegerField(default=1)
    deleted = models.BooleanField(default=False)
    only_for = models.UUIDField(null=True, help_text="a person, if nobody else may see it")
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+"
    )
    facts = models.JSONField(default=dict)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["group", "number"], name="event_numbers_unique_in_group"
            ),
        ]
        ordering = ["group", "number"]

    def __str__(self) -> str:
        return f"{self.kind} #{self.number}"
