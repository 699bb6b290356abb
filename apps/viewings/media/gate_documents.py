"""Add and remove documents of gates: pictures of papers, and PDFs."""

import uuid

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.groups.rules import Action, require, require_adder_or_organiser
from apps.viewings.media.adding import (
    DOCUMENTS,
    media_add,
    media_delete,
    require_room,
)
from apps.viewings.media.document_models import GateDocument
from apps.viewings.media.reading import format_of

KeptAs = GateDocument.KeptAs


@transaction.atomic
def gate_document_add(
    *,
    candidate: Candidate,
    by: Person,
    gate: str,
    file: "UploadedFile[bytes]",
    note: str = "",
    id: uuid.UUID | None = None,
) -> tuple[GateDocument, bool]:
    """Add what shows a gate. It settles nothing: whoever checked it says so on the gate.

    Returns whether it is new: a repeat with the same file, fields and id returns the stored one.
    Raises `Conflict` for other content under a used id, `Invalid` at /file.
    """
    require(by, Action.ADD, candidate.list.group_id)
    document = GateDocument(
        group_id=candidate.list.group_id,
        candidate=candidate,
        gate=gate,
        kept_as=KeptAs.PDF if format_of(file) == "PDF" else KeptAs.IMAGE,
        note=note,
        added_by=by,
    )

    def require_fit(document: GateDocument) -> None:
        require_room(GateDocument.objects.filter(candidate=candidate).count())

    return media_add(document, by, file, DOCUMENTS, id, require_fit)


@transaction.atomic
def gate_document_remove(*, document: GateDocument, by: Person, expected_version: int) -> None:
    """Remove it at any time: it may name people who object. That it existed stays on record."""
    require_adder_or_organiser(by, Action.ADD, document.group_id, document.added_by_id)
    media_delete(document, by, expected_version)
