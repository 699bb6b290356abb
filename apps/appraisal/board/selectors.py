"""Stored results as one reader may see them, with names and sentences.

Which results those are, `seen` says.
"""

import uuid
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, Generic, TypeGuard

from django.db.models import Q

from apps.accounts.models import Person
from apps.appraisal.board import strike_off
from apps.appraisal.compute.seen import TRIES, Results, Seen, board_seen
from apps.appraisal.envelope import ENVELOPE, Behind, Origin, envelope, fresh_enough
from apps.appraisal.figures import Json
from apps.appraisal.jobs import boards_behind, looks_behind
from apps.appraisal.models import CandidateAppraisal, ListAppraisal
from apps.appraisal.opinions import Reader
from apps.appraisal.stored import CONSENSUS, ROLLUP, Read, State, read
from apps.appraisal.stored.candidates import Checkpoint, Consensus, DoubtRaised, Rollup, Statement
from apps.appraisal.stored.parts import Advice, ToBeJudged
from apps.appraisal.stored.standing import (
    Doubt,
    HiddenVotes,
    Member,
    Reasons,
    Row,
    Standing,
    Votes,
    WantMet,
    WantsShare,
)
from apps.appraisal.words import sentences
from apps.appraisal.words.sentences import Names
from apps.boats.models import Candidate, CandidateList
from apps.boats.selectors import candidate_for, list_for
from apps.groups.models import Membership
from apps.viewings.models import Submission


def names_of(candidate_list: CandidateList) -> Names:
    """Everybody who belongs or belonged to the group or submitted findings, and all boats of the
    list. Two queries."""
    members = Membership.objects.filter(group=candidate_list.group_id).values("person")
    # Somebody of the club may have looked at a boat for the group.
    sent = Submission.objects.filter(
        state=Submission.State.SUBMITTED, viewing__candidate__list=candidate_list
    ).values("author")
    people = Person.objects.filter(Q(pk__in=members) | Q(pk__in=sent))
    boats = Candidate.objects.filter(list=candidate_list)
    return Names(
        people={str(pk): name for pk, name in people.values_list("pk", "name")},
        boats={str(pk): name for pk, name in boats.values_list("pk", "name")},
    )


# --- The board -----------------------------------------------------------------------------------


def board_read(person: Person, list_id: uuid.UUID, wait: float = 0) -> Json:
    """The list's order with its reasons. Nine queries at any size."""
    candidate_list = list_for(person, list_id)
    fresh_enough(candidate_list, wait, boards_behind)
    names, reader = names_of(candidate_list), Reader.of(person, candidate_list)
    seen = board_seen(reader, list_id)
    appraisal, standing = seen.appraisal, seen.results
    return {
        **envelope(
            candidate_list,
            origin=Origin.of_board(appraisal),
            read=seen.read,
            appraisal=appraisal,
            behind=boards_behind,
        ),
        "list": {"id": str(list_id), "name": candidate_list.name},
        "currency": candidate_list.currency,
        "budget": standing and standing["budget"],
        "required_confidence": standing and standing["required_confidence"],
        "priors": standing and standing["priors"],
        "club_outcomes": standing and standing["club_outcomes"],
        "converged": standing and standing["converged"],
        "sentences": [
            *sentences.hidden(hidden_boats(standing), hidden_ballots(standing), names),
            *(sentences.level(standing["rows"]) if standing else []),
            *(sentences.rests_on(standing) if standing else []),
        ],
        "candidates": [row_read(row, names) for row in (standing["rows"] if standing else ())],
        "struck_off": struck_off_read(standing, names, candidate_list),
        "members": [member_read(one, names) for one in members_of(standing)],
        "votes": votes_read(standing["votes"] if standing else None, names),
    }


def hidden_boats(standing: Standing | None) -> list[str]:
    """Those in the order on which there are valuations that the reader may not see."""
    rows = standing["rows"] if standing else ()
    return [row["candidate_id"] for row in rows if row.get("opinions_hidden")]


def members_of(standing: Standing | None) -> Sequence[Member]:
    return standing["members"] if standing else ()


def hidden_ballots(standing: Standing | None) -> bool:
    return any(
        member.get("hidden") and member["source"] == "ballot" for member in members_of(standing)
    )


def row_read(row: Row, names: Names) -> Json:
    condition = row["condition"]
    stated = [sentences.place(row), sentences.condition(condition), sentences.structure(condition)]
    if row["surplus"]:
        stated.append(sentences.surplus(row["surplus"]))
    return {
        "opinions_hidden": False,  # an earlier method did not say so
        **row,
        "name": names.boat(row["candidate_id"]),
        "strike_off_advised": bool(row["advice"]),
        "advice": [advice_serialized(one, names) for one in row["advice"]],
        "before_buying": to_be_judged(row.get("before_buying", ())),
        "sentences": [sentence for sentence in stated if sentence],
    }


def advice_serialized(one: Advice, names: Names) -> Json:
    return {**one, "sentence": strike_off.sentence(one, names)}


def to_be_judged(doubts: Iterable[ToBeJudged]) -> list[Json]:
    return [{**one, "sentence": sentences.before_buying(one)} for one in doubts]


def struck_off_read(
    standing: Standing | None, names: Names, candidate_list: CandidateList
) -> list[Json]:
    """Apart from the others, each with the reason people gave. One query."""
    rows = standing["struck_off"] if standing else ()
    reasons = {
        str(pk): reason
        for pk, reason in Candidate.objects.filter(list=candidate_list).values_list(
            "pk", "stage_reason"
        )
    }
    return [
        {**row_read(row, names), "stage_reason": reasons.get(row["candidate_id"], "")}
        for row in rows
    ]


def member_read(member: Member, names: Names) -> Json:
    return {
        "hidden": False,
        **member,
        "name": names.person(member["person_id"]),
        "sentence": sentences.far_from_group(member, names),
    }


def votes_read(votes: Votes | HiddenVotes | None, names: Names) -> Json | None:
    if votes is None:
        return None
    if are_open(votes):
        return {**votes, "hidden": False, "sentences": sentences.votes(votes, names)}
    return {**votes, "sentences": []}


def are_open(votes: Votes | HiddenVotes) -> TypeGuard[Votes]:
    return not votes.get("hidden", False)


def order_read(person: Person, list_id: uuid.UUID, wait: float = 0) -> Json:
    """The buyers' orders and the votes alone."""
    board = board_read(person, list_id, wait)
    return {key: board[key] for key in (*ENVELOPE, "list", "members", "votes")}


# --- One candidate -------------------------------------------------------------------------------


@dataclass(frozen=True)
class StoredCandidate:
    """A candidate and the row of its results, if there is one; `behind` goes with what is read."""

    candidate: Candidate
    row: CandidateAppraisal | None
    behind: Behind

    @property
    def appraisal(self) -> ListAppraisal | None:
        return self.row.list_appraisal if self.row else None

    def answer(self, stored: Read[Any]) -> Json:
        """The beginning of every answer about it. Two queries."""
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
    """The same with the results of her list that the reader may see, both of one revision."""

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
    unreadable = Read[Results](state=State.UNREADABLE)
    return SeenCandidate(found, Seen(found.appraisal, unreadable, boats={}))


def candidate_stored(
    person: Person, candidate_id: uuid.UUID, wait: float, behind: Behind = boards_behind
) -> StoredCandidate:
    """What is stored of a candidate. Two queries."""
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


def rollup_serialized(rollup: Rollup, names: Names) -> Json:
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


def checkpoint_read(one: Checkpoint, names: Names) -> Json:
    return {
        **one,
        "doubt": one["doubt"] and named(one["doubt"], names),
        "reports": [named(report, names) for report in one["reports"]],
        "could_not_look": [named(stated, names) for stated in one["could_not_look"]],
    }


def named(stated: Statement | DoubtRaised | Doubt | WantMet | WantsShare, names: Names) -> Json:
    return {**stated, "name": names.person(stated["person_id"]) if stated["person_id"] else ""}


def reasons_read(person: Person, candidate_id: uuid.UUID, wait: float = 0) -> Json:
    both = candidate_seen(person, candidate_id, wait, boards_behind, board_seen)
    found, candidate = both.found, both.found.candidate
    reasons = both.seen.reasons(found.row)
    serialized = reasons_serialized(reasons.value, candidate, names_of(candidate.list))
    return {**found.answer(reasons), "reasons": serialized or None}


def reasons_serialized(reasons: Reasons | None, candidate: Candidate, names: Names) -> Json:
    """Stored reasons in words; empty if there are none."""
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
            {**named(one, names), "sentence": sentences.wanted(one, names)}
            for one in reasons["wants"]
        ],
        "wants_met": [named(one, names) for one in reasons["wants_met"]],
        "sentence": sentences.missing(reasons["missing"]),
    }
