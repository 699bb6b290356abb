from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from apps.boats.models import Candidate
from apps.catalogue.models import Checkpoint, CheckpointVersion
from apps.common.models import Versioned
from apps.viewings.models import Finding


class SellerAnswer(Versioned):
    """What somebody on the seller's side answered to one question. It is no look.

    An answer never changes. A later one to the same question counts in its place; one that was
    written down wrongly is withdrawn, and stays on record. `asked`: the question as it was put.
    `level`: the level whose words come nearest to the answer. `particulars`: what it says of the
    boat's particulars; `replaced`: the values that these took the place of.
    """

    class SaidBy(models.TextChoices):
        OWNER = "owner", "the owner"
        BROKER = "broker", "the broker"
        YARD = "yard", "the yard"
        OTHER = "other", "somebody else"

    candidate = models.ForeignKey(
        Candidate, on_delete=models.CASCADE, related_name="seller_answers"
    )
    checkpoint = models.ForeignKey(
        Checkpoint, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    checkpoint_version = models.ForeignKey(
        CheckpointVersion,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="seller_answers",
    )
    question = models.SlugField(max_length=60, blank=True, help_text="code, if of no checkpoint")
    asked = models.CharField(max_length=300)
    answer = models.TextField(max_length=4000)
    level = models.PositiveSmallIntegerField(null=True, blank=True, choices=Finding.Level.choices)
    particulars = models.JSONField(default=dict, blank=True)
    replaced = models.JSONField(default=dict, blank=True)
    said_by = models.CharField(max_length=6, choices=SaidBy.choices)
    name = models.CharField(max_length=120, blank=True, help_text="who answered")
    said_on = models.DateField()
    added_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="seller_answers_added"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=(Q(checkpoint=None) & Q(checkpoint_version=None) & ~Q(question=""))
                | (~Q(checkpoint=None) & ~Q(checkpoint_version=None) & Q(question="")),
                name="seller_answer_to_one_question",
            ),
            models.CheckConstraint(
                condition=Q(level=None) | (~Q(checkpoint=None) & Q(level__gte=0) & Q(level__lte=4)),
                name="seller_answer_level_of_a_checkpoint",
            ),
            models.CheckConstraint(condition=~Q(answer=""), name="seller_answer_says_something"),
            models.CheckConstraint(
                condition=Q(said_by__in=("owner", "broker", "yard", "other")),
                name="seller_answer_says_who",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code}: {self.answer[:40]}"

    @property
    def code(self) -> str:
        """Of the checkpoint or the question that it answers."""
        return self.checkpoint_id or self.question

    @property
    def claims(self) -> dict[str, Any]:
        return dict(self.particulars)
