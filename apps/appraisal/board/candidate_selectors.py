"""Results of one boat, as far as the reader may see them."""

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic

from apps.accounts.models import Person
from apps.appraisal.board.candidate_answer import (
    ConsensusRead,
    ReasonsRead,
    RollupRead,
    consensus_serialized,
    reasons_serialized,
    rollup_serialized,
)
from apps.appraisal.compute.seen import TRIES, Results, Seen, board_seen
from apps.appraisal.envelope import AnswerHead, envelope
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
from apps.common.shapes import IdAndName


class CandidateHead(AnswerHead):
    candidate: IdAndName
    list_id: str


class RollupAnswer(CandidateHead):
    rollup: RollupRead | None


class ConsensusAnswer(CandidateHead):
    consensus: ConsensusRead | None


class ReasonsAnswer(CandidateHead):
    reasons: ReasonsRead | None


@dataclass(frozen=True)
class CandidateRead:
    """A candidate as one reader sees her, and one of her stored values; row: if there is any."""

    reading: Reading
    boat: Boat
    of: Of
    row: CandidateAppraisal | None

    def answer(self, stored: StoredValue[Any]) -> CandidateHead:
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


def rollup_read(person: Person, candidate_id: uuid.UUID, wait: float = 0) -> RollupAnswer:
    return rollup_of(Reading.of_candidate(person, candidate_id, Of.BOARD, wait), candidate_id)


def rollup_of(reading: Reading, candidate_id: uuid.UUID) -> RollupAnswer:
    found = candidate_read(reading, candidate_id, Of.BOARD, ROLLUP)
    stored = read(found.row, ROLLUP)
    rollup = stored.value
    return {**found.answer(stored), "rollup": rollup and rollup_serialized(rollup, reading.names)}


def consensus_read(person: Person, candidate_id: uuid.UUID, wait: float = 0) -> ConsensusAnswer:
    return consensus_of(Reading.of_candidate(person, candidate_id, Of.BOARD, wait), candidate_id)


def consensus_of(reading: Reading, candidate_id: uuid.UUID) -> ConsensusAnswer:
    found = candidate_read(reading, candidate_id, Of.BOARD, CONSENSUS)
    stored = read(found.row, CONSENSUS)
    consensus = stored.value
    return {
        **found.answer(stored),
        "consensus": consensus and consensus_serialized(consensus, reading.names),
    }


def reasons_read(person: Person, candidate_id: uuid.UUID, wait: float = 0) -> ReasonsAnswer:
    return reasons_of(Reading.of_candidate(person, candidate_id, Of.BOARD, wait), candidate_id)


def reasons_of(reading: Reading, candidate_id: uuid.UUID) -> ReasonsAnswer:
    both = candidate_seen(reading, candidate_id, Of.BOARD, REASONS, board_seen)
    reasons = both.seen.reasons(both.found.row)
    value = reasons.value
    return {
        **both.found.answer(reasons),
        "reasons": value and reasons_serialized(value, both.found.boat, reading.names),
    }
