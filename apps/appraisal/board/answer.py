"""The part of the board's answer that is the same for all readers of the same opinions.

It is composed from the stored standing, with sentences, and kept as it is sent (`ready`).
"""

from collections.abc import Iterable
from typing import TypedDict, TypeGuard, cast

from apps.appraisal.board import strike_off
from apps.appraisal.stored.parts import (
    Advice,
    Amount,
    OutcomesUsed,
    Priors,
    StoredToBeJudged,
)
from apps.appraisal.stored.standing import (
    HiddenVotes,
    StandingRow,
    StoredMember,
    StoredRow,
    StoredStanding,
    Votes,
)
from apps.appraisal.words import phrases, sentences
from apps.appraisal.words.phrases import Names


class AdviceRead(TypedDict):
    """A reason to strike off, beside the numbers of its kind."""

    code: str
    sentence: str


class JudgedRead(StoredToBeJudged):
    sentence: str


class BoardRow(StandingRow):
    name: str
    strike_off_advised: bool
    advice: list[AdviceRead]
    before_buying: list[JudgedRead]
    sentences: list[str]


class StruckOffRow(BoardRow):
    stage_reason: str


class MemberRead(StoredMember):
    name: str
    sentence: str


class VotesRead(Votes):
    sentences: list[str]


class HiddenVotesRead(HiddenVotes):
    sentences: list[str]


class BoardBody(TypedDict):
    budget: Amount | None
    required_confidence: float | None
    priors: Priors | None
    club_outcomes: OutcomesUsed | None
    converged: bool | None
    sentences: list[str]
    candidates: list[BoardRow]
    struck_off: list[StruckOffRow]
    members: list[MemberRead]
    votes: VotesRead | HiddenVotesRead | None


def board_body(standing: StoredStanding | None, names: Names) -> BoardBody:
    if standing is None:
        return {
            "budget": None,
            "required_confidence": None,
            "priors": None,
            "club_outcomes": None,
            "converged": None,
            "sentences": [],
            "candidates": [],
            "struck_off": [],
            "members": [],
            "votes": None,
        }
    return {
        "budget": standing["budget"],
        "required_confidence": standing["required_confidence"],
        "priors": standing["priors"],
        "club_outcomes": standing["club_outcomes"],
        "converged": standing["converged"],
        "sentences": [
            *sentences.hidden(hidden_boats(standing), hidden_ballots(standing), names),
            *phrases.level(standing["rows"]),
            *sentences.rests_on(standing),
        ],
        "candidates": [row_read(row, names) for row in standing["rows"]],
        "struck_off": [
            {**row_read(row, names), "stage_reason": names.stage_reason(row["candidate_id"])}
            for row in standing["struck_off"]
        ],
        "members": [member_read(one, names) for one in standing["members"]],
        "votes": votes_read(standing["votes"], names),
    }


def hidden_boats(standing: StoredStanding) -> list[str]:
    """Boats in the order with valuations that the reader may not see."""
    return [row["candidate_id"] for row in standing["rows"] if row.get("opinions_hidden")]


def hidden_ballots(standing: StoredStanding) -> bool:
    return any(
        member.get("hidden") and member["source"] == "ballot" for member in standing["members"]
    )


def row_read(row: StoredRow, names: Names) -> BoardRow:
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


def advice_serialized(one: Advice, names: Names) -> AdviceRead:
    return cast(AdviceRead, {**one, "sentence": strike_off.sentence(one, names)})


def to_be_judged(doubts: Iterable[StoredToBeJudged]) -> list[JudgedRead]:
    return [{**one, "sentence": phrases.before_buying(one)} for one in doubts]


def member_read(member: StoredMember, names: Names) -> MemberRead:
    return {
        "hidden": False,
        **member,
        "name": names.person(member["person_id"]),
        "sentence": sentences.far_from_group(member, names),
    }


def votes_read(
    votes: Votes | HiddenVotes | None, names: Names
) -> VotesRead | HiddenVotesRead | None:
    if votes is None:
        return None
    if are_open(votes):
        return {**votes, "hidden": False, "sentences": sentences.votes(votes, names)}
    return {"hidden": True, "weights": votes["weights"], "sentences": []}


def are_open(votes: Votes | HiddenVotes) -> TypeGuard[Votes]:
    return not votes.get("hidden", False)
