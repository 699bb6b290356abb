"""The part of the board's answer that is the same for all readers of the same opinions.

It is composed from the stored standing, with sentences, and kept as it is sent (`ready`).
"""

from collections.abc import Iterable
from typing import TypeGuard

from apps.appraisal.board import strike_off
from apps.appraisal.figures import Json
from apps.appraisal.stored.parts import Advice, StoredToBeJudged
from apps.appraisal.stored.standing import (
    HiddenVotes,
    StoredMember,
    StoredRow,
    StoredStanding,
    Votes,
)
from apps.appraisal.words import phrases, sentences
from apps.appraisal.words.phrases import Names

NOTHING = ("budget", "required_confidence", "priors", "club_outcomes", "converged")


def board_body(standing: StoredStanding | None, names: Names) -> Json:
    if standing is None:
        return {
            **dict.fromkeys(NOTHING),
            **{"sentences": [], "candidates": [], "struck_off": [], "members": [], "votes": None},
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


def row_read(row: StoredRow, names: Names) -> Json:
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


def to_be_judged(doubts: Iterable[StoredToBeJudged]) -> list[Json]:
    return [{**one, "sentence": phrases.before_buying(one)} for one in doubts]


def member_read(member: StoredMember, names: Names) -> Json:
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
