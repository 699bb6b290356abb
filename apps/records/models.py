from django.conf import settings
from django.db import models
from django.db.models import Q
from uuid_utils.compat import uuid7

from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate


class ListRecord(models.Model):
    """The record of a list: how many entries it has, and the digest of the last one."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    list = models.OneToOneField(CandidateList, on_delete=models.CASCADE, related_name="record")
    entries_made = models.PositiveIntegerField(default=0)
    digest = models.CharField(max_length=64, blank=True, help_text="of the last entry")
    created_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return f"{self.entries_made} entries"


class RecordEntry(models.Model):
    """One thing that happened. It never changes.

    of_list: whether it is about the list as a whole, and so about each of its boats. An entry that
    came in an archive whose reader could not see its content has only its digests.
    """

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    record = models.ForeignKey(ListRecord, on_delete=models.CASCADE, related_name="entries")
    number = models.PositiveIntegerField()
    at = models.DateTimeField()
    kind = models.CharField(max_length=60, blank=True, help_text="of the event")
    thing = models.CharField(max_length=40, blank=True, help_text="kind of what it happened to")
    of_list = models.BooleanField(default=False)
    candidate = models.ForeignKey(
        Candidate, on_delete=models.SET_NULL, null=True, blank=True, related_name="record_entries"
    )
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="record_entries",
    )
    # Its content as JSON, with the ids of the service where it was made; empty if not known here.
    text = models.TextField(blank=True)
    text_digest = models.CharField(max_length=64, help_text="SHA-256 of the text")
    digest = models.CharField(max_length=64, help_text="chained to the entry before")

    class Meta:
        verbose_name_plural = "record entries"
        ordering = ("record", "number")
        constraints = [
            models.UniqueConstraint(fields=("record", "number"), name="record_number_once"),
            models.CheckConstraint(
                condition=Q(text="", kind="", thing="") | (~Q(text="") & ~Q(kind="")),
                name="record_entry_has_all_or_no_text",
            ),
            models.CheckConstraint(
                condition=Q(of_list=False) | Q(candidate=None), name="record_entry_of_one_or_all"
            ),
        ]
        indexes = [models.Index(fields=("candidate", "number"), name="record_of_a_boat")]

    def __str__(self) -> str:
        return f"{self.number}: {self.kind or 'content not known here'}"
