from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.accounts.models import ThroughClient
from apps.common.models import Versioned
from apps.groups.models import Group


class Clause(Versioned):
    """A topic of the sheet in a group's own words. Its version rises with each new wording."""

    group = models.ForeignKey(Group, on_delete=models.CASCADE, related_name="clauses")
    topic = models.SlugField(max_length=30)
    wordings_made = models.PositiveSmallIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=("group", "topic"), name="clause_once_for_each_topic")
        ]

    def __str__(self) -> str:
        return self.topic


class Wording(Versioned, ThroughClient):
    """One wording of a clause. It is never changed; the one with the highest number holds."""

    clause = models.ForeignKey(Clause, on_delete=models.CASCADE, related_name="wordings")
    number = models.PositiveSmallIntegerField()
    text = models.TextField(max_length=4000)
    written_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="wordings_written"
    )

    class Meta:
        ordering = ("number",)
        constraints = [
            models.UniqueConstraint(fields=("clause", "number"), name="wording_number_once"),
            models.CheckConstraint(condition=~Q(text=""), name="wording_has_words"),
        ]

    def __str__(self) -> str:
        return f"wording {self.number}"


class Consent(Versioned, ThroughClient):
    """A person agreed to one wording, at the time at which this was made."""

    wording = models.ForeignKey(Wording, on_delete=models.CASCADE, related_name="consents")
    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="consents_given"
    )

    class Meta:
        ordering = ("created_at", "pk")
        constraints = [
            models.UniqueConstraint(fields=("wording", "person"), name="consent_once_for_each")
        ]

    def __str__(self) -> str:
        return f"{self.person_id} agreed"
