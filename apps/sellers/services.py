"""Writes down what a seller answered, and takes back what was written down wrongly."""

import uuid
from collections.abc import Mapping
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.boats.revisions import inputs_changed
from apps.boats.services import candidate_change, candidate_locked
from apps.boats.vocabulary import Source
from apps.catalogue.applicability import applies
from apps.catalogue.selectors import catalogue_snapshot, versions_in
from apps.catalogue.snapshot import Snapshot
from apps.common.errors import Conflict, FieldFault, Invalid, require_no_faults
from apps.common.services import record_create
from apps.groups.rules import Action, require, require_adder_or_organiser
from apps.sellers.models import SellerAnswer
from apps.sellers.questions import FILLS, fits
from apps.viewings.checklists import particulars_of
from apps.viewings.event_records import record_event
from apps.viewings.findings import missing_checkpoints
from apps.viewings.services import future_faults


@transaction.atomic
def answer_add(
    *,
    candidate: Candidate,
    by: Person,
    answer: str,
    said_by: str,
    checkpoint: str | None = None,
    question: str = "",
    level: int | None = None,
    particulars: Mapping[str, int] | None = None,
    name: str = "",
    said_on: date | None = None,
    id: uuid.UUID | None = None,
) -> SellerAnswer:
    """Record an answer to a checkpoint's question or to one of the catalogue's other questions.

    What it says of particulars becomes the boat's, as claimed, unless a paper or a measurement is
    known. Raises `Invalid` at the field of each fault.
    """
    require(by, Action.ADD, candidate.list.group_id)
    snapshot = catalogue_snapshot(candidate.list.group_id)
    said_on = said_on or timezone.now().date()
    claimed = dict(particulars or {})
    require_no_faults(
        [
            *_question_faults(candidate, snapshot, checkpoint, question, level),
            *_claim_faults(checkpoint, claimed),
            *future_faults("/said_on", said_on),
        ]
    )
    created = SellerAnswer(
        candidate=candidate,
        checkpoint_id=checkpoint,
        checkpoint_version=versions_in(snapshot)[checkpoint] if checkpoint else None,
        question="" if checkpoint else question,
        asked=_asked(snapshot, checkpoint, question),
        answer=answer,
        level=level,
        particulars=claimed,
        replaced=_take(candidate, by, claimed),
        said_by=said_by,
        name=name,
        said_on=said_on,
        added_by=by,
    )
    record_create(created, id)
    if level is not None:
        inputs_changed(candidate.list_id)
    record_event("seller_answer.added", created, candidate, by, question=created.code)
    return created


@transaction.atomic
def answer_withdraw(*, answer: SellerAnswer, by: Person, expected_version: int) -> None:
    """Take back an answer that was written down wrongly; the particulars that it gave go back too.

    It stays on record. Only for the person who added it, or an organiser.
    """
    require_answer_withdrawer(answer, by)
    if answer.withdrawn_at is not None:
        raise Conflict("withdrawn", "It was withdrawn already.")
    answer.withdrawn_at = timezone.now()
    answer.save_changes(expected_version=expected_version, fields=["withdrawn_at"])
    _give_back(answer, by)
    if answer.level is not None:
        inputs_changed(answer.candidate.list_id)
    record_event("seller_answer.withdrawn", answer, answer.candidate, by, question=answer.code)


def require_answer_withdrawer(answer: SellerAnswer, by: Person) -> None:
    """Only those who buy: particulars of the boat go back with it."""
    group_id = answer.candidate.list.group_id
    require_adder_or_organiser(by, Action.ADD, group_id, answer.added_by_id)


# --- Particulars ---------------------------------------------------------------------------------


def _take(candidate: Candidate, by: Person, claimed: Mapping[str, int]) -> dict[str, Any]:
    """Make the boat's what is claimed of her; returns the values that it takes the place of."""
    boat = candidate_locked(candidate)
    taken = {
        name: value
        for name, value in claimed.items()
        if _is_claim(boat, name) and getattr(boat, name) != value
    }
    replaced = {name: getattr(boat, name) for name in taken}
    _change(boat, by, taken)
    return replaced


def _give_back(answer: SellerAnswer, by: Person) -> None:
    """Restore what the answer replaced, where nobody has stated anything else since."""
    boat = candidate_locked(answer.candidate)
    kept = {
        name: value
        for name, value in answer.replaced.items()
        if _is_claim(boat, name) and getattr(boat, name) == answer.particulars[name]
    }
    _change(boat, by, kept)


def _is_claim(boat: Candidate, name: str) -> bool:
    return bool(boat.sources.get(name, Source.CLAIMED) == Source.CLAIMED)


def _change(boat: Candidate, by: Person, facts: Mapping[str, Any]) -> None:
    if not facts:
        return
    try:
        candidate_change(candidate=boat, by=by, facts=facts, expected_version=boat.version)
    except Invalid as refused:
        faults = [
            FieldFault(f"/particulars{fault.pointer}", fault.code, fault.detail)
            for fault in refused.faults
        ]
        raise Invalid(faults) from refused


# --- Checks --------------------------------------------------------------------------------------


def _asked(snapshot: Snapshot, checkpoint: str | None, question: str) -> str:
    if checkpoint:
        return snapshot.catalogue.checkpoints[checkpoint].ask
    return snapshot.catalogue.questions[question].ask


def _question_faults(
    candidate: Candidate,
    snapshot: Snapshot,
    checkpoint: str | None,
    question: str,
    level: int | None,
) -> list[FieldFault]:
    if bool(checkpoint) == bool(question):
        detail = "Name the checkpoint or the question that was answered, and not both."
        return [FieldFault("/question", "one_question", detail)]
    if checkpoint:
        return _checkpoint_faults(candidate, snapshot, checkpoint)
    faults = []
    known = snapshot.catalogue.questions.get(question)
    if known is None or not fits(known, particulars_of(candidate)):
        detail = f"There is no question {question!r} to this boat's seller."
        faults.append(FieldFault("/question", "unknown", detail))
    if level is not None:
        detail = "Only the answer to a checkpoint's question has a level."
        faults.append(FieldFault("/level", "not_asked", detail))
    return faults


def _checkpoint_faults(candidate: Candidate, snapshot: Snapshot, code: str) -> list[FieldFault]:
    missing = missing_checkpoints([code], snapshot, candidate.list.group_id)
    if missing:
        return [FieldFault("/checkpoint", one.code, one.detail) for one in missing.values()]
    checkpoint = snapshot.catalogue.checkpoints[code]
    if not applies(checkpoint, particulars_of(candidate)):
        detail = f"{checkpoint.title!r} cannot apply to this boat with her present particulars."
        return [FieldFault("/checkpoint", "does_not_apply", detail)]
    if not checkpoint.ask:
        detail = f"There is nothing to ask a seller at {checkpoint.title!r}: somebody has to look."
        return [FieldFault("/checkpoint", "not_asked", detail)]
    return []


def _claim_faults(checkpoint: str | None, claimed: Mapping[str, int]) -> list[FieldFault]:
    asked = FILLS.get(checkpoint or "", ())
    return [
        FieldFault(
            f"/particulars/{name}", "not_asked", "The question does not ask for this particular."
        )
        for name in claimed
        if name not in asked
    ]
