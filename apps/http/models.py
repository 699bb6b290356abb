"""Stored answers for repeated requests."""

from django.db import models
from uuid_utils.compat import uuid7


class IdempotencyRecord(models.Model):
    """The first answer to a write with an Idempotency-Key, which every repeat gets."""

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
