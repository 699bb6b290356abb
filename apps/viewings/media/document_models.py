from typing import Any

from django.db import models
from django.db.models import Q

from apps.boats.models import Candidate
from apps.viewings.media.models import (
    PICTURE_FORMS,
    Media,
    media_constraints,
    media_indexes,
)


class GateDocument(Media):
    """A paper that shows what a gate asks: a picture of it, or a PDF. No result depends on it."""

    class KeptAs(models.TextChoices):
        """A picture is made again without metadata. A PDF is kept as it came, and never opened."""

        IMAGE = "image", "picture"
        PDF = "pdf", "PDF"

    FORMS = {**PICTURE_FORMS, "pdf": ".pdf"}
    WORD = "gate_document"
    RELATED = ("candidate__list",)
    LARGEST_BYTES = "DOCUMENT_LARGEST_BYTES"
    FOR_DOWNLOAD = True

    candidate = models.ForeignKey(
        "boats.Candidate", on_delete=models.CASCADE, related_name="gate_documents"
    )
    gate = models.SlugField(max_length=20, help_text="the code of what it shows")
    kept_as = models.CharField(max_length=5, choices=KeptAs.choices)

    class Meta:
        constraints = [
            *media_constraints(),
            models.CheckConstraint(
                condition=Q(kept_as__in=("image", "pdf")), name="gate_document_is_a_picture_or_pdf"
            ),
        ]
        indexes = media_indexes()

    def __str__(self) -> str:
        return f"{self.get_kept_as_display()} for {self.gate}"

    @property
    def forms_made(self) -> tuple[str, ...]:
        return ("pdf",) if self.kept_as == self.KeptAs.PDF else ("image", "thumbnail")

    @property
    def of(self) -> Candidate:
        return self.candidate

    @property
    def facts(self) -> dict[str, Any]:
        return {"gate": self.gate}

    @property
    def fields_sent(self) -> tuple[Any, ...]:
        return (self.candidate_id, self.gate, self.note)
