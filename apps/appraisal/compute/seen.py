"""The stored results that one reader may see: the only place that chooses them.

Results are stored as computed from all opinions, and again for each smaller set of opinions that
some buyer may see, and for none. A reader gets the results from the largest set that the reader
may see; `opinions` defines what a reader may see.
"""

import uuid
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Generic, NamedTuple, TypeVar

from apps.appraisal.compute import explanations, reasons
from apps.appraisal.models import (
    CandidateAppraisal,
    ListAppraisal,
    NarrowerResults,
    ReadyAnswer,
)
from apps.appraisal.opinions import Opinions, Reader, readers_of
from apps.appraisal.stored import (
    COST_LOOKS,
    EXPLANATION,
    NEXT_LOOKS,
    REASONS,
    RESTS_ON,
    STANDING,
    Readability,
    StoredKind,
    StoredValue,
    read,
    value_read,
)
from apps.appraisal.stored.candidates import Explanation
from apps.appraisal.stored.looks import NextLooks
from apps.appraisal.stored.standing import Reasons, StoredStanding
from apps.boats.list_models import CandidateList
from apps.common.digests import sources
from apps.common.prepared import Prepared

Of = NarrowerResults.Of


TRIES = 3  # while the results are being replaced


T = TypeVar("T")
Results = TypeVar("Results", StoredStanding, NextLooks)


@dataclass(frozen=True)
class Seen(Generic[Results]):
    """Results of a list for one reader, with the row they belong to.

    boats: values that replace each boat's stored ones; None: use the stored ones.
    """

    appraisal: ListAppraisal | None = None
    read: StoredValue[Results] = field(default_factory=lambda: StoredValue[Results]())
    boats: Mapping[str, Mapping[str, object]] | None = None

    @property
    def results(self) -> Results | None:
        """None if this reader has no results yet, or none that can be read."""
        return self.read.value

    def belongs_to(self, stored: CandidateAppraisal | None) -> bool:
        """Whether these results are of the same revision as a boat's stored results."""
        if stored is None or self.appraisal is None or self.boats is None:
            return True
        here = self.appraisal.revision, self.appraisal.looks_revision
        there = stored.list_appraisal.revision, stored.list_appraisal.looks_revision
        return here == there

    def reasons(self, stored: CandidateAppraisal | None) -> StoredValue[Reasons]:
        return self._of_boat(stored, REASONS, reasons.ON_NO_OPINION)

    def explanation(self, stored: CandidateAppraisal | None) -> StoredValue[Explanation]:
        return self._of_boat(stored, EXPLANATION, explanations.ON_NO_OPINION)

    def _of_boat(
        self, stored: CandidateAppraisal | None, kind: StoredKind[T], open_to_all: Collection[str]
    ) -> StoredValue[T]:
        if stored is None or self.boats is None:
            return read(stored, kind)
        whole = getattr(stored, kind.field)
        kept = {name: whole[name] for name in open_to_all if name in whole}
        return value_read({**kept, **self.boats.get(str(stored.pk), {})}, kind)


def board_seen(reader: Reader, list_id: uuid.UUID) -> Seen[StoredStanding]:
    """The standing and its reasons. One query for a reader who may see all, else three."""
    return _seen(reader, list_id, Of.BOARD, STANDING)


def looks_seen(reader: Reader, list_id: uuid.UUID) -> Seen[NextLooks]:
    """Next looks and explanations. One query for a reader who may see all, else three."""
    return _seen(reader, list_id, Of.LOOKS, NEXT_LOOKS)


def _seen(
    reader: Reader, list_id: uuid.UUID, of: NarrowerResults.Of, kind: StoredKind[Results]
) -> Seen[Results]:
    """kind: the field of the list's row that narrower results replace."""
    appraisal = ListAppraisal.objects.filter(pk=list_id).defer(*unread(kind)).first()
    if appraisal is None:
        return Seen()
    whole = read(appraisal, kind)
    if reader.sees(rests_on(whole.value)):
        return Seen(appraisal, whole)
    rows = NarrowerResults.objects.filter(list_appraisal=list_id, of=of)
    unused = (f"list_appraisal__{name}" for name in (*unread(kind), kind.field))
    with_list = rows.select_related("list_appraisal").defer(*unused)
    for _ in range(TRIES):
        stored = rows.order_by("pk").values_list("pk", "rests_on")
        found = widest(reader, {pk: opinions_read(rests_on) for pk, rests_on in stored})
        row = with_list.filter(pk=found).first() if found else None
        if row is not None:
            return Seen(row.list_appraisal, value_read(row.results, kind), row.boats)
    # Results without any for this reader were stored by an earlier version of the service.
    unreadable = bool(getattr(appraisal, kind.field))
    nothing = StoredValue[Results](
        state=Readability.UNREADABLE if unreadable else Readability.WHOLE
    )
    return Seen(appraisal, nothing, boats={})


def unread(kind: StoredKind[Any]) -> tuple[str, ...]:
    """The large columns of the list's row that answers of this kind do not need."""
    needed = (kind.field, COST_LOOKS.field) if kind is NEXT_LOOKS else (kind.field,)
    return tuple(name for name in ListAppraisal.LARGE if name not in needed)


class ReadyBody(NamedTuple):
    body: str
    facts: Mapping[str, Any]


def ready_seen(
    reader: Reader, appraisal: ListAppraisal | None, of: NarrowerResults.Of
) -> ReadyBody | None:
    """The kept answer that the reader may see, if there is one of these very results. Two queries.

    appraisal: may lack its large columns.
    """
    if appraisal is None:
        return None
    computed_at = appraisal.computed_at if of == Of.BOARD else appraisal.looks_computed_at
    if computed_at is None:
        return None
    kept = _KEPT(appraisal.pk, of, computed_at, sources())
    found = widest(reader, {pk: Opinions.read(rests_on) for pk, rests_on in kept})
    row = None if found is None else _BODY.first(found)
    return None if row is None else ReadyBody(*row)


_KEPT = Prepared(
    lambda list_id, of, computed_at, sources: (
        ReadyAnswer.objects.filter(
            list_appraisal=list_id, of=of, computed_at=computed_at, sources=sources
        )
        .order_by("pk")
        .values_list("pk", "rests_on")
    ),
    *(uuid.UUID, str, datetime, str),
)
_BODY = Prepared(
    lambda pk: ReadyAnswer.objects.filter(pk=pk).values_list("body", "facts"),
    int,
)


def rests_on(results: StoredStanding | NextLooks | None) -> Opinions | None:
    return Opinions.read(results["rests_on"] if results else None)


def boards_seen(
    lists: Collection[CandidateList], people: Collection[uuid.UUID]
) -> dict[uuid.UUID, dict[uuid.UUID, StoredStanding | None]]:
    """The standing that each person may see, by list with results. Four queries at any size."""
    readers, ids = readers_of(lists, people), [one.pk for one in lists]
    whole = ListAppraisal.objects.filter(pk__in=ids, revision__gt=0)
    narrower: dict[uuid.UUID, dict[int, NarrowerResults]] = defaultdict(dict)
    for row in NarrowerResults.objects.filter(list_appraisal__in=ids, of=Of.BOARD).order_by("pk"):
        narrower[row.list_appraisal_id][row.pk] = row

    def standing(
        reader: Reader, list_id: uuid.UUID, stored: StoredStanding | None
    ) -> StoredStanding | None:
        if reader.sees(rests_on(stored)):
            return stored
        rows = narrower[list_id]
        found = widest(reader, {pk: opinions_read(row.rests_on) for pk, row in rows.items()})
        return None if found is None else value_read(rows[found].results, STANDING).value

    standings = {
        list_id: value_read(stored, STANDING).value
        for list_id, stored in whole.values_list("pk", "standing")
    }
    return {
        list_id: {person: standing(readers[list_id, person], list_id, stored) for person in people}
        for list_id, stored in standings.items()
    }


def opinions_read(rests_on: object) -> Opinions | None:
    """None if the opinions that a result depends on cannot be read."""
    return Opinions.read(value_read(rests_on, RESTS_ON).value)


def widest(reader: Reader, stored: Mapping[int, Opinions | None]) -> int | None:
    """The id of those results that the reader may see and that use the most opinions, if any."""
    for_them = {
        pk: opinions
        for pk, opinions in stored.items()
        if opinions is not None and reader.sees(opinions)
    }
    return max(
        for_them,
        key=lambda pk: (len(for_them[pk].valuations), for_them[pk].ballots),
        default=None,
    )
