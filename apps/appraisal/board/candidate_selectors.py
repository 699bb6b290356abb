"""Results of one boat, as far as the reader may see them."""

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic

from apps.accounts.models import Person
from apps.appraisal.board.answer import advice_serialized, to_be_judged
from apps.appraisal.compute.seen import TRIES, Results, Seen, board_seen
from apps.appraisal.envelope import envelope
from apps.appraisal.figures import Json
from apps.appraisal.jobs import Of
from apps.appraisal.models import CandidateAppraisal, ListAppraisal
from apps.appraisal.opinions import Reader
from apps.appraisal.reading import Boat, Reading
from apps.appraisal.stored import (
    CONSENSUS,
    REASONS,
    ROLLUP,
    Readability,
    StoredKind,
    StoredValue,
    read,
)
from apps.appraisal.stored.candidates import (
    Consensus,
    DoubtRaised,
    StoredCheckpoint,
    StoredRollup,
    StoredStatement,
)
from apps.appraisal.stored.standing import (
    Doubt,
    Reasons,
    WantMet,
    WantsShare,
)
from apps.appraisal.words import phrases, sentences
from apps.appraisal.words.phrases import Names
from apps.boats.models import Candidate


@dataclass(frozen=True)
class CandidateRead:
    """A candidate as one reader sees her, and one of her stored values; row: if there is any."""

    reading: Reading
    boat: Boat
    of: Of
    row: CandidateAppraisal | None

    def answer(self, stored: StoredValue[Any]) -> Json:
        """The first fields of every answer about the candidate."""
        # Without a row there are no results of hers, though the list may have some.
        reading, revision = self.reading.at(None), None
        if row := self.row:
            board = self.of == Of.BOARD
            reading, revision = self.reading, row.revision if board else row.explained_revision
        return {
            **envelope(reading, self.of, stored, revision),
            "candidate": {"id": self.boat.id, "name": self.boat.name},
            "list_id": str(self.reading.list_id),
        }


@dataclass(frozen=True)
class SeenCandidate(Generic[Results]):
    """A stored candidate with the results of her list that the reader may see, of one revision."""

    found: CandidateRead
    seen: Seen[Results]


def candidate_seen(
    reading: Reading,
    candidate_id: uuid.UUID,
    of: Of,
    kind: StoredKind[Any],
    seen_by: Callable[[Reader, uuid.UUID], Seen[Results]],
) -> SeenCandidate[Results]:
    for _ in range(TRIES):
        found = candidate_read(reading, candidate_id, of, kind)
        seen = seen_by(reading.reader, reading.list_id)
        if seen.belongs_to(found.row):
            return SeenCandidate(found, seen)
    unreadable = StoredValue[Results](state=Readability.UNREADABLE)
    return SeenCandidate(found, Seen(found.reading.appraisal, unreadable, boats={}))


def candidate_read(
    reading: Reading, candidate_id: uuid.UUID, of: Of, kind: StoredKind[Any]
) -> CandidateRead:
    """The stored value of one kind of a candidate. One query."""
    whole = [f"list_appraisal__{name}" for name in ListAppraisal.LARGE]
    others = [name for name in CandidateAppraisal.LARGE if name != kind.field]
    row = (
        CandidateAppraisal.objects.select_related("list_appraisal")
        .defer(*whole, *others)
        .filter(candidate=candidate_id)
        .first()
    )
    reading = reading.at(row.list_appraisal) if row else reading
    return CandidateRead(reading, reading.boats[str(candidate_id)], of, row)


def rollup_read(person: Person, candidate_id: uuid.UUID, wait: float = 0) -> Json:
    return rollup_of(Reading.of_candidate(person, candidate_id, Of.BOARD, wait), candidate_id)


def rollup_of(reading: Reading, candidate_id: uuid.UUID) -> Json:
    found = candidate_read(reading, candidate_id, Of.BOARD, ROLLUP)
    stored = read(found.row, ROLLUP)
    rollup = stored.value
    return {**found.answer(stored), "rollup": rollup and rollup_serialized(rollup, reading.names)}


def rollup_serialized(rollup: StoredRollup, names: Names) -> Json:
    titles = {one["remedy"]: one["title"] for one in rollup.get("remedies", ())}
    return {
        **rollup,
        "assumed": [
            {**one, "sentence": sentences.assumption(one, titles)}
            for one in rollup.get("assumed", ())
        ],
        "per_buyer": [
            {**one, "name": names.person(one["person_id"])} for one in rollup.get("per_buyer", ())
        ],
        "sentence": sentences.missing(rollup["missing"]),
    }


def consensus_read(person: Person, candidate_id: uuid.UUID, wait: float = 0) -> Json:
    return consensus_of(Reading.of_candidate(person, candidate_id, Of.BOARD, wait), candidate_id)


def consensus_of(reading: Reading, candidate_id: uuid.UUID) -> Json:
    found = candidate_read(reading, candidate_id, Of.BOARD, CONSENSUS)
    stored = read(found.row, CONSENSUS)
    consensus = stored.value
    return {
        **found.answer(stored),
        "consensus": consensus and consensus_serialized(consensus, reading.names),
    }


def consensus_serialized(consensus: Consensus, names: Names) -> Json:
    condition = consensus["condition"]
    return {
        **consensus,
        "checkpoints": [checkpoint_read(one, names) for one in consensus["checkpoints"]],
        "ruled_out": [
            {**one, "stated_by": [named(stated, names) for stated in one["stated_by"]]}
            for one in consensus["ruled_out"]
        ],
        "sentence": f"{sentences.condition(condition)} {sentences.structure(condition)}",
        "sentences": [
            *sentences.rests_on(consensus),
            *(sentences.age(age) for age in consensus["ages"] if not age["known"]),
        ],
    }


def checkpoint_read(one: StoredCheckpoint, names: Names) -> Json:
    return {
        **one,
        "doubt": one["doubt"] and named(one["doubt"], names),
        "reports": [named(report, names) for report in one["reports"]],
        "could_not_look": [named(stated, names) for stated in one["could_not_look"]],
    }


def named(
    stated: StoredStatement | DoubtRaised | Doubt | WantMet | WantsShare, names: Names
) -> Json:
    return {**stated, "name": names.person(stated["person_id"]) if stated["person_id"] else ""}


def reasons_read(person: Person, candidate_id: uuid.UUID, wait: float = 0) -> Json:
    return reasons_of(Reading.of_candidate(person, candidate_id, Of.BOARD, wait), candidate_id)


def reasons_of(reading: Reading, candidate_id: uuid.UUID) -> Json:
    both = candidate_seen(reading, candidate_id, Of.BOARD, REASONS, board_seen)
    reasons = both.seen.reasons(both.found.row)
    serialized = reasons_serialized(reasons.value, both.found.boat, reading.names)
    return {**both.found.answer(reasons), "reasons": serialized or None}


def reasons_serialized(reasons: Reasons | None, candidate: Candidate | Boat, names: Names) -> Json:
    """Stored reasons with their sentences; empty if there are none."""
    if not reasons:
        return {}
    return {
        **reasons,
        "stage": candidate.stage,
        "stage_reason": candidate.stage_reason,
        "strike_off_advised": bool(reasons["advice"]),
        "advice": [advice_serialized(one, names) for one in reasons["advice"]],
        "before_buying": to_be_judged(reasons.get("before_buying", ())),
        "compared": [
            {**one, "sentence": sentences.compared(one, names)} for one in reasons["compared"]
        ],
        "doubts": [
            {**named(one, names), "sentence": sentences.doubt(one, names)}
            for one in reasons["doubts"]
        ],
        "walk_away": [
            {**one, "sentence": sentences.walk_away(one)} for one in reasons["walk_away"]
        ],
        "wants": [
            {**named(one, names), "sentence": phrases.wanted(one, names)}
            for one in reasons["wants"]
        ],
        "wants_met": [named(one, names) for one in reasons["wants_met"]],
        "sentence": sentences.missing(reasons["missing"]),
    }
