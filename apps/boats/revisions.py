"""The inputs revision, by which a result is known to be out of date."""

import uuid
from collections.abc import Callable, Collection, Hashable, Mapping, Sequence
from typing import TypeVar

from django.db import transaction
from django.db.models import F
from django.db.models.functions import Now

from apps.boats.list_models import CandidateList
from apps.events.services import event_announce, event_record

M = TypeVar("M")

RAISED = {"inputs_revision": F("inputs_revision") + 1, "inputs_changed_at": Now()}


def inputs_changed(list_id: uuid.UUID) -> int:
    """Raise the list's inputs revision; call in the transaction that changed an input.

    Returns the new revision and notifies subscribers. If a message to a worker is lost, the
    revision in the database is still ahead of the results, and the sweep finds the list.
    """
    _require_transaction()
    CandidateList.objects.filter(pk=list_id).update(**RAISED)
    revision = CandidateList.objects.values_list("inputs_revision", flat=True).get(pk=list_id)
    _announce(list_id, revision)
    return revision


def groups_inputs_changed(group_ids: Collection[uuid.UUID]) -> int:
    """Raise it for all lists of these groups at once. Returns how many. Two queries."""
    _require_transaction()
    lists = CandidateList.objects.filter(group__in=group_ids)
    # In a fixed order: concurrent changes must not deadlock on each other's rows.
    locked = lists.select_for_update(no_key=True).order_by("pk")
    revisions = dict(locked.values_list("pk", "inputs_revision"))
    CandidateList.objects.filter(pk__in=revisions).update(**RAISED)
    for list_id, revision in revisions.items():
        _announce(list_id, revision + 1)
    return len(revisions)


def group_inputs_changed(
    group_id: uuid.UUID, kind: str, thing: str, *, deleted: bool = False, **facts: int
) -> None:
    """Raise it for all lists of a group, and record the event that says why."""
    groups_inputs_changed([group_id])
    event_record(
        group_id=group_id,
        kind=kind,
        thing=thing,
        thing_id=group_id,
        deleted=deleted,
        facts=facts,
    )


def moved(
    before: M,
    after: M,
    *,
    same: Sequence[str],
    figures: Callable[[M], Mapping[Hashable, float] | None],
    tolerance: float,
) -> bool:
    """Whether stored inputs of a group's lists changed enough to compute the lists again.

    same: attributes of which each change counts. figures: all numbers by a key; None: they cannot
    be read. tolerance: the largest change of a number that does not count.
    """
    if any(getattr(before, name) != getattr(after, name) for name in same):
        return True
    old, new = figures(before), figures(after)
    if old is None or new is None:
        return True
    return old.keys() != new.keys() or any(abs(new[k] - old[k]) > tolerance for k in old)


def _require_transaction() -> None:
    if not transaction.get_connection().in_atomic_block:
        raise RuntimeError("raise the revision in the transaction that changed the input")


def _announce(list_id: uuid.UUID, revision: int) -> None:
    event_announce(
        kind="list.inputs_changed", thing="list", thing_id=list_id, facts={"revision": revision}
    )
