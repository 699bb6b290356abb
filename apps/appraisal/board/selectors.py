"""Stored results as one reader may see them, with names and sentences.

`compute.seen` chooses which results those are.
"""

import uuid
from collections.abc import Iterable, Sequence
from typing import TypeGuard

from django.db.models import Q

from apps.accounts.models import Person
from apps.appraisal.board import strike_off
from apps.appraisal.compute.seen import board_seen
from apps.appraisal.envelope import ENVELOPE, Origin, envelope, fresh_enough
from apps.appraisal.figures import Json
from apps.appraisal.jobs import boards_behind
from apps.appraisal.opinions import Reader
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
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.boats.selectors import list_for
from apps.groups.models import Membership
from apps.viewings.models import Submission


def names_of(candidate_list: CandidateList) -> Names:
    """Names of all present and past members, of everybody who submitted findings, and of all boats.

    Two queries.
    """
    members = Membership.objects.filter(group=candidate_list.group_id).values("person")
    # A club member from outside the group may have looked at a boat for the group.
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
            *(phrases.level(standing["rows"]) if standing else []),
            *(sentences.rests_on(standing) if standing else []),
        ],
        "candidates": [row_read(row, names) for row in (standing["rows"] if standing else ())],
        "struck_off": struck_off_read(standing, names, candidate_list),
        "members": [member_read(one, names) for one in members_of(standing)],
        "votes": votes_read(standing["votes"] if standing else None, names),
    }


def hidden_boats(standing: StoredStanding | None) -> list[str]:
    """Boats in the order with valuations that the reader may not see."""
    rows = standing["rows"] if standing else ()
    return [row["candidate_id"] for row in rows if row.get("opinions_hidden")]


def members_of(standing: StoredStanding | None) -> Sequence[StoredMember]:
    return standing["members"] if standing else ()


def hidden_ballots(standing: StoredStanding | None) -> bool:
    return any(
        member.get("hidden") and member["source"] == "ballot" for member in members_of(standing)
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


def struck_off_read(
    standing: StoredStanding | None, names: Names, candidate_list: CandidateList
) -> list[Json]:
    """Boats that people struck off, each with their reason. One query."""
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


def order_read(person: Person, list_id: uuid.UUID, wait: float = 0) -> Json:
    """The buyers' orders and the votes alone."""
    board = board_read(person, list_id, wait)
    return {key: board[key] for key in (*ENVELOPE, "list", "members", "votes")}


# --- One candidate -------------------------------------------------------------------------------
