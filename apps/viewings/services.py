"""Services of viewings, follow-ups and clearances. Submissions: see submitting.py."""

import uuid
from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.boats.revisions import inputs_changed
from apps.catalogue.content import CheckpointEntry
from apps.catalogue.selectors import catalogue_snapshot
from apps.common.errors import Conflict, FieldFault, require_no_faults
from apps.common.services import record_create
from apps.groups.rules import Action, require, require_adder_or_organiser
from apps.groups.selectors import live_members
from apps.viewings.authority import Authority, authority_over
from apps.viewings.conditions import UNDER_WAY
from apps.viewings.doubts import checkpoint_doubted
from apps.viewings.event_records import record_event
from apps.viewings.findings import missing_checkpoints
from apps.viewings.models import Clearance, FollowUp, Submission, Viewing

# In some time zones it is tomorrow already.
AHEAD = timedelta(days=1)


# --- Viewings ------------------------------------------------------------------------------------


@transaction.atomic
def viewing_add(
    *,
    candidate: Candidate,
    by: Person,
    starts_at: datetime,
    kind: str = Viewing.Kind.VISIT,
    state: str = Viewing.State.PLANNED,
    conditions: Mapping[str, Any] | None = None,
    people: Iterable[uuid.UUID] = (),
    note: str = "",
    id: uuid.UUID | None = None,
    given: Authority | None = None,
) -> Viewing:
    """Add a planned or made visit or sea trial; the trial is afloat without anybody saying so.

    Raises `Invalid` at /people/N for non-members, and at conditions that its kind cannot have.

    given: an outsider's authority; with it they may name themselves among the people.
    """
    authority = authority_over(candidate, by, Action.PLAN, given)
    people = list(people)
    members = [one for one in people if not (authority.is_outsiders and one == by.pk)]
    if kind == Viewing.Kind.SEA_TRIAL:
        conditions = {**(conditions or {})}
        conditions["where"] = conditions.get("where") or Viewing.Where.AFLOAT
    require_no_faults(_not_members(members, candidate) + _not_of_kind(kind, conditions or {}))
    viewing = Viewing(
        candidate=candidate,
        kind=kind,
        starts_at=starts_at,
        state=state,
        note=note,
        added_by=by,
        **(conditions or {}),
    )
    record_create(viewing, id)
    viewing.people.set(people)  # type: ignore[arg-type]  # ids will do
    record_event("viewing.added", viewing, candidate, by)
    return viewing


@transaction.atomic
def viewing_change(
    *,
    viewing: Viewing,
    by: Person,
    expected_version: int,
    conditions: Mapping[str, Any] | None = None,
    people: Iterable[uuid.UUID] | None = None,
    given: Authority | None = None,
    **changes: Any,
) -> Viewing:
    """Change the named fields: starts_at, state, note, people, single conditions.

    Once findings were submitted, the time and the known conditions cannot change, but unknown
    conditions can be filled in. Raises `Invalid` at fields that cannot change.
    """
    authority_over(viewing.candidate, by, Action.PLAN, given)
    wanted = {**changes, **(conditions or {})}
    faults = [] if people is None else _not_members(people := list(people), viewing.candidate)
    faults += _not_of_kind(viewing.kind, conditions or {})
    has_findings = viewing.submissions.filter(state=Submission.State.SUBMITTED).exists()
    if has_findings:
        faults += _on_record(viewing, changes, conditions or {})
    require_no_faults(faults)
    for name, value in wanted.items():
        setattr(viewing, name, value)
    viewing.save_changes(expected_version=expected_version, fields=list(wanted))
    if people is not None:
        viewing.people.set(people)  # type: ignore[arg-type]  # ids will do
    if has_findings and conditions:
        inputs_changed(viewing.candidate.list_id)
    record_event("viewing.changed", viewing, viewing.candidate, by)
    return viewing


def _not_members(people: list[uuid.UUID], candidate: Candidate) -> list[FieldFault]:
    members = set(
        live_members(candidate.list.group_id)
        .filter(person__in=people)
        .values_list("person_id", flat=True)
    )
    return [
        FieldFault(f"/people/{index}", "not_a_member", f"{person} does not belong to the group.")
        for index, person in enumerate(people)
        if person not in members
    ]


def _not_of_kind(kind: str, conditions: Mapping[str, Any]) -> list[FieldFault]:
    """Faults of conditions that a viewing of this kind cannot have."""
    if kind == Viewing.Kind.SEA_TRIAL:
        lies = conditions.get("where", Viewing.Where.AFLOAT)
        if lies == Viewing.Where.AFLOAT:
            return []
        return [FieldFault("/conditions/where", "not_afloat", "A sea trial is made afloat.")]
    return [
        FieldFault(f"/conditions/{name}", "only_under_way", "Only a sea trial has this.")
        for name in UNDER_WAY
        if conditions.get(name) not in (None, "")
    ]


def _on_record(
    viewing: Viewing, changes: Mapping[str, Any], conditions: Mapping[str, Any]
) -> list[FieldFault]:
    known = {name: value for name, value in viewing.conditions.items() if value not in (None, "")}
    fixed = {
        f"/conditions/{name}": (known[name], conditions[name])
        for name in conditions
        if name in known
    }
    if "starts_at" in changes:
        fixed["/starts_at"] = (viewing.starts_at, changes["starts_at"])
    if "state" in changes:
        fixed["/state"] = (viewing.state, changes["state"])
    return [
        FieldFault(pointer, "on_record", "Findings were submitted from this visit as it stands.")
        for pointer, (stored, wanted) in fixed.items()
        if stored != wanted
    ]


# --- Follow-ups ----------------------------------------------------------------------------------


@transaction.atomic
def follow_up_add(
    *,
    candidate: Candidate,
    by: Person,
    checkpoint: str | None = None,
    assignee: uuid.UUID | None = None,
    id: uuid.UUID | None = None,
    **stated: Any,
) -> FollowUp:
    """Add a question: `question`, `asked_of`, optionally `due_on`."""
    require(by, Action.PLAN, candidate.list.group_id)
    follow_up = FollowUp(
        candidate=candidate, checkpoint_id=checkpoint, assignee_id=assignee, added_by=by, **stated
    )
    require_no_faults(
        _checkpoint_faults(checkpoint, candidate) + _assignee_faults(assignee, candidate)
    )
    record_create(follow_up, id)
    record_event("follow_up.added", follow_up, candidate, by)
    return follow_up


@transaction.atomic
def follow_up_change(
    *, follow_up: FollowUp, by: Person, expected_version: int, **changes: Any
) -> FollowUp:
    """Change the named fields: question, asked_of, assignee, due_on, state, answer, changed."""
    require(by, Action.PLAN, follow_up.candidate.list.group_id)
    faults = []
    if "assignee" in changes:
        changes["assignee_id"] = changes.pop("assignee")
        faults += _assignee_faults(changes["assignee_id"], follow_up.candidate)
    for name, value in changes.items():
        setattr(follow_up, name, value)
    if follow_up.state == FollowUp.State.ANSWERED and not follow_up.answer:
        faults.append(FieldFault("/answer", "required", "Say what the answer was."))
    require_no_faults(faults)
    follow_up.save_changes(expected_version=expected_version, fields=list(changes))
    record_event("follow_up.changed", follow_up, follow_up.candidate, by)
    return follow_up


def _assignee_faults(assignee: uuid.UUID | None, candidate: Candidate) -> list[FieldFault]:
    members = live_members(candidate.list.group_id)
    if assignee is None or members.filter(person=assignee).exists():
        return []
    return [FieldFault("/assignee", "not_a_member", f"{assignee} does not belong to the group.")]


# --- Clearances ----------------------------------------------------------------------------------


@transaction.atomic
def clearance_add(
    *,
    candidate: Candidate,
    by: Person,
    checkpoint: str,
    basis: str,
    level: int,
    document: str,
    dated_on: date,
    profession: str = "",
    note: str = "",
    id: uuid.UUID | None = None,
) -> Clearance:
    """Record what closes a guarded checkpoint's doubts that were raised up to the document's date.

    The checkpoint may have left the catalogue since, because its doubts remain.
    """
    require(by, Action.CLEAR, candidate.list.group_id)
    doubted = checkpoint_doubted(candidate, checkpoint)
    faults = [] if doubted else _checkpoint_faults(checkpoint, candidate)
    if doubted and not doubted.guarded:
        faults.append(
            FieldFault(
                "/checkpoint",
                "not_guarded",
                "Only doubts about structure, safety or flooding wait for a clearance.",
            )
        )
    if doubted and not faults and basis == Clearance.Basis.RECEIPT:
        faults += receipt_faults(doubted)
    faults += profession_faults(profession, needed=basis == Clearance.Basis.PROFESSIONAL)
    faults += future_faults("/dated_on", dated_on)
    require_no_faults(faults)
    clearance = Clearance(
        candidate=candidate,
        checkpoint_id=checkpoint,
        basis=basis,
        level=level,
        profession=profession,
        document=document,
        dated_on=dated_on,
        note=note,
        added_by=by,
    )
    record_create(clearance, id)
    inputs_changed(candidate.list_id)
    record_event("clearance.added", clearance, candidate, by)
    return clearance


@transaction.atomic
def clearance_withdraw(*, clearance: Clearance, by: Person, expected_version: int) -> None:
    """Reopen the doubts that it closed. Only for the person who added it, or an organiser."""
    require_clearance_withdrawer(clearance, by)
    if clearance.withdrawn_at is not None:
        raise Conflict("withdrawn", "It was withdrawn already.")
    clearance.withdrawn_at = timezone.now()
    clearance.save_changes(expected_version=expected_version, fields=["withdrawn_at"])
    inputs_changed(clearance.candidate.list_id)
    record_event("clearance.withdrawn", clearance, clearance.candidate, by)


def require_clearance_withdrawer(clearance: Clearance, by: Person) -> None:
    """A helper, too, reopens a doubt that they closed themselves."""
    group_id = clearance.candidate.list.group_id
    require_adder_or_organiser(by, Action.SUBMIT, group_id, clearance.added_by_id)


# --- Shared checks -------------------------------------------------------------------------------


def _checkpoint_faults(code: str | None, candidate: Candidate) -> list[FieldFault]:
    if code is None:
        return []
    group_id = candidate.list.group_id
    missing = missing_checkpoints([code], catalogue_snapshot(group_id), group_id)
    return [FieldFault("/checkpoint", fault.code, fault.detail) for fault in missing.values()]


def receipt_faults(checkpoint: CheckpointEntry) -> list[FieldFault]:
    if checkpoint.receipt_clears:
        return []
    detail = f"A receipt does not settle this: {checkpoint.title}."
    return [FieldFault("/basis", "no_receipt", detail)]


def profession_faults(profession: str, *, needed: bool) -> list[FieldFault]:
    if needed and not profession:
        return [FieldFault("/profession", "required", "Say which professional it was.")]
    if profession and not needed:
        return [
            FieldFault("/profession", "not_professional", "Only a professional has a profession.")
        ]
    return []


def future_faults(pointer: str, day: date) -> list[FieldFault]:
    if day <= (timezone.now() + AHEAD).date():
        return []
    return [FieldFault(pointer, "in_the_future", f"{day} has not come yet.")]
