"""The base of shared records."""

from django.db import models
from uuid_utils.compat import uuid7

from apps.common.errors import Stale


class Versioned(models.Model):
    """A shared record: a UUIDv7, perhaps made by a client, and a version that changes increase."""

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
        """Store the named fields and increase the version, only if nobody else did so meanwhile.

        `expected_version` is the version that the caller read (If-Match); None: the loaded one.
        Raises `Stale` if the stored version is another one.
        """
        seen = self.version if expected_version is None else expected_version
        claimed = type(self)._base_manager.filter(pk=self.pk, version=seen).update(version=seen + 1)
        if not claimed:
            raise Stale
        self.version = seen + 1
        self.save(update_fields=[*fields, "updated_at"])
