"""The stored results that one reader may see: the one place where that is chosen.

Results are stored as they come out of all opinions, and again as they come out of fewer, for each
set of opinions that some buyer may see and for none. A reader gets those that rest on the most of
what the reader may see; `opinions` says what that is.
"""

import uuid
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from apps.appraisal import explanations, reasons
from apps.appraisal.figures import Json
from apps.appraisal.models import CandidateAppraisal, ListAppraisal, NarrowerResults
from apps.appraisal.opinions import Opinions, Reader, readers_of
from apps.boats.models import CandidateList

Of = NarrowerResults.Of


TRIES = 3  # to read what is being replaced


@dataclass(frozen=True)
class Seen:
    """Results of a list for one reader, with the row they belong to.

    boats: what stands in place of what each boat has stored; None: what she has stored.
    """

    appraisal: ListAppraisal | None = None
    results: Json = field(default_factory=dict)
    boats: Mapping[str, Json] | None = None

    def belongs_to(self, stored: CandidateAppraisal | None) -> bool:
        """Whether it can be read together with what is stored of a boat."""
        if stored is None or self.appraisal is None or self.boats is None:
            return True
        here = self.appraisal.revision, self.appraisal.looks_revision
        there = stored.list_appraisal.revision, stored.list_appraisal.looks_revision
        return here == there

    def reasons(self, stored: CandidateAppraisal | None) -> Json:
        """Empty where none are for this reader yet."""
        found = self._of_boat(stored, stored.reasons if stored else {}, reasons.ON_NO_OPINION)
        return found if "place" in found else {}

    def explanation(self, stored: CandidateAppraisal | None) -> Json:
        whole = stored.explanation if stored else {}
        return self._of_boat(stored, whole, explanations.ON_NO_OPINION)

    def _of_boat(
        self, stored: CandidateAppraisal | None, whole: Json, open_to_all: Collection[str]
    ) -> Json:
        if stored is None or self.boats is None:
            return whole
        kept = {name: whole[name] for name in open_to_all if name in whole}
        return kept | self.boats.get(str(stored.pk), {})


def board_seen(reader: Reader, list_id: uuid.UUID) -> Seen:
    """The standing and its reasons. One query where the reader may see all, else three."""
    return _seen(reader, list_id, Of.BOARD)


def looks_seen(reader: Reader, list_id: uuid.UUID) -> Seen:
    """Next looks and explanations, likewise."""
    return _seen(reader, list_id, Of.LOOKS)


def _seen(reader: Reader, list_id: uuid.UUID, of: str) -> Seen:
    appraisal = ListAppraisal.objects.filter(pk=list_id).first()
    if appraisal is None:
        return Seen()
    whole = appraisal.standing if of == Of.BOARD else appraisal.next_looks
    if reader.sees(Opinions.read(whole.get("rests_on"))):
        return Seen(appraisal, whole)
    rows = NarrowerResults.objects.filter(list_appraisal=list_id, of=of)
    for _ in range(TRIES):
        found = widest(reader, dict(rows.order_by("pk").values_list("pk", "rests_on")))
        row = rows.select_related("list_appraisal").filter(pk=found).first() if found else None
        if row is not None:
            return Seen(row.list_appraisal, row.results, row.boats)
    return Seen(appraisal, boats={})


def boards_seen(
    lists: Collection[CandidateList], people: Collection[uuid.UUID]
) -> dict[uuid.UUID, dict[uuid.UUID, Json]]:
    """By list that has results, the standing that each person may see. Four queries at any size."""
    readers, ids = readers_of(lists, people), [one.pk for one in lists]
    whole = ListAppraisal.objects.filter(pk__in=ids, revision__gt=0)
    narrower: dict[uuid.UUID, dict[int, NarrowerResults]] = defaultdict(dict)
    for row in NarrowerResults.objects.filter(list_appraisal__in=ids, of=Of.BOARD).order_by("pk"):
        narrower[row.list_appraisal_id][row.pk] = row

    def standing(reader: Reader, list_id: uuid.UUID, stored: Json) -> Json:
        if reader.sees(Opinions.read(stored.get("rests_on"))):
            return stored
        rows = narrower[list_id]
        found = widest(reader, {pk: row.rests_on for pk, row in rows.items()})
        return {} if found is None else rows[found].results

    return {
        list_id: {person: standing(readers[list_id, person], list_id, stored) for person in people}
        for list_id, stored in whole.values_list("pk", "standing")
    }


def widest(reader: Reader, stored: Mapping[int, Json]) -> int | None:
    """Which of some results rests on the most of what the reader may see, if any is for them."""
    for_them = {
        pk: opinions
        for pk, rests_on in stored.items()
        if (opinions := Opinions.read(rests_on)) is not None and reader.sees(opinions)
    }
    return max(
        for_them,
        key=lambda pk: (len(for_them[pk].valuations), for_them[pk].ballots),
        default=None,
    )
