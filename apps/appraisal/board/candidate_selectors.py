"""Results of one boat, as far as the reader may see them."""

import uuid
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Generic

from apps.accounts.models import Person
from apps.appraisal.board.selectors import advice_serialized, names_of, to_be_judged
from apps.appraisal.compute.seen import TRIES, Results, Seen, board_seen
from apps.appraisal.envelope import Behind, Origin, envelope, fresh_enough
from apps.appraisal.figures import Json
from apps.appraisal.jobs import boards_behind, looks_behind
from apps.appraisal.models import CandidateAppraisal, ListAppraisal
from apps.appraisal.opinions import Reader
from apps.appraisal.stored import CONSENSUS, ROLLUP, Readability, StoredValue, read
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
from apps.boats.selectors import candidate_for


@dataclass(frozen=True)
class StoredCandidate:
    """A candidate and its row of results, if any; `behind` selects the lists that are stale."""

    candidate: Candidate
    row: CandidateAppraisal | None
    behind: Behind

    @property
    def appraisal(self) -> ListAppraisal | None:
        return self.row.list_appraisal if self.row else None

    def answer(self, stored: StoredValue[Any]) -> Json:
        """The first fields of every answer about the candidate. Two queries."""
        candidate = self.candidate
        return {
            **envelope(
                candidate.list,
                origin=self._origin(),
                read=stored,
                appraisal=self.appraisal,
                behind=self.behind,
            ),
            "candidate": {"id": str(candidate.pk), "name": candidate.name},
            "list_id": str(candidate.list_id),
        }

    def _origin(self) -> Origin:
        if self.row is None:
            return Origin()
        if self.behind is looks_behind:
            return replace(Origin.of_looks(self.appraisal), revision=self.row.explained_revision)
        return replace(Origin.of_board(self.appraisal), revision=self.row.revision)


@dataclass(frozen=True)
class SeenCandidate(Generic[Results]):
    """A stored candidate with the results of her list that the reader may see, of one revision."""

    found: StoredCandidate
    seen: Seen[Results]


def candidate_seen(
    person: Person,
    candidate_id: uuid.UUID,
    wait: float,
    behind: Behind,
    seen_by: Callable[[Reader, uuid.UUID], Seen[Results]],
) -> SeenCandidate[Results]:
    for _ in range(TRIES):
        found = candidate_stored(person, candidate_id, wait, behind)
        reader = Reader.of(person, found.candidate.list)
        seen = seen_by(reader, found.candidate.list_id)
        if seen.belongs_to(found.row):
            return SeenCandidate(found, seen)
    unreadable = StoredValue[Results](state=Readability.UNREADABLE)
    return SeenCandidate(found, Seen(found.appraisal, unreadable, boats={}))


def candidate_stored(
    person: Person, candidate_id: uuid.UUID, wait: float, behind: Behind = boards_behind
) -> StoredCandidate:
    """The stored results of a candidate. Two queries."""
    candidate = candidate_for(person, candidate_id)
    fresh_enough(candidate.list, wait, behind)
    row = (
        CandidateAppraisal.objects.select_related("list_appraisal")
        .filter(candidate=candidate)
        .first()
    )
    return StoredCandidate(candidate, row, behind)


def rollup_read(person: Person, candidate_id: uuid.UUID, wait: float = 0) -> Json:
    found = candidate_stored(person, candidate_id, wait)
    stored = read(found.row, ROLLUP)
    rollup = stored.value
    names = names_of(found.candidate.list)
    return {**found.answer(stored), "rollup": rollup and rollup_serialized(rollup, names)}


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
    found = candidate_stored(person, candidate_id, wait)
    stored = read(found.row, CONSENSUS)
    consensus = stored.value
    names = names_of(found.candidate.list)
    return {
        **found.answer(stored),
        "consensus": consensus and consensus_serialized(consensus, names),
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
    both = candidate_seen(person, candidate_id, wait, boards_behind, board_seen)
    found, candidate = both.found, both.found.candidate
    reasons = both.seen.reasons(found.row)
    serialized = reasons_serialized(reasons.value, candidate, names_of(candidate.list))
    return {**found.answer(reasons), "reasons": serialized or None}


def reasons_serialized(reasons: Reasons | None, candidate: Candidate, names: Names) -> Json:
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
