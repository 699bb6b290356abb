"""Stored results as one reader may see them, with names and sentences.

Which results those are, `seen` says.
"""

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet

from apps.accounts.models import Person
from apps.appraisal import sentences
from apps.appraisal.computing import METHOD
from apps.appraisal.figures import Json
from apps.appraisal.jobs import boards_behind
from apps.appraisal.models import CandidateAppraisal, ListAppraisal
from apps.appraisal.opinions import Reader
from apps.appraisal.seen import TRIES, Seen, board_seen
from apps.appraisal.sentences import CAUTION, Names
from apps.appraisal.waiting import wait_until_fresh
from apps.boats.models import Candidate, CandidateList
from apps.boats.selectors import candidate_for, list_for
from apps.groups.models import Membership
from apps.viewings.models import Submission

Behind = Callable[[], QuerySet[CandidateList]]


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


# --- How fresh it is -----------------------------------------------------------------------------


NO_EDITIONS = {"base": 0, "club": 0, "group": 0}
ENVELOPE = ("revision", "fresh", "computed_at", "method", "editions", "caution", "failing")


def envelope(
    candidate_list: CandidateList,
    *,
    revision: int,
    computed_at: datetime | None,
    appraisal: ListAppraisal | None,
    behind: Behind,
) -> Json:
    """What every derived answer says of itself. One query."""
    return {
        "revision": revision,
        "fresh": not behind().filter(pk=candidate_list.pk).exists(),
        "computed_at": computed_at,
        "method": appraisal.method if appraisal and appraisal.method else METHOD,
        "editions": appraisal.editions if appraisal else NO_EDITIONS,
        "caution": CAUTION,
        # Something is wrong on our side: it is tried again by itself.
        "failing": bool(appraisal and appraisal.attempts),
    }


# --- The board -----------------------------------------------------------------------------------


def board_read(person: Person, list_id: uuid.UUID, wait: float = 0) -> Json:
    """The list's order with its reasons. Eight queries at any size."""
    candidate_list = list_for(person, list_id)
    fresh_enough(candidate_list, wait, boards_behind)
    names, reader = names_of(candidate_list), Reader.of(person, candidate_list)
    seen = board_seen(reader, list_id)
    appraisal, stored = seen.appraisal, seen.results
    return {
        **envelope(
            candidate_list,
            revision=appraisal.revision if appraisal else 0,
            computed_at=appraisal.computed_at if appraisal else None,
            appraisal=appraisal,
            behind=boards_behind,
        ),
        "list": {"id": str(list_id), "name": candidate_list.name},
        "currency": candidate_list.currency,
        "pot": stored.get("pot"),
        "required_confidence": stored.get("required_confidence"),
        "priors": stored.get("priors"),
        "memory": stored.get("memory"),
        "converged": stored.get("converged"),
        "sentences": [
            *sentences.hidden(hidden_boats(stored), hidden_ballots(stored), names),
            *sentences.rests_on(stored),
        ],
        "candidates": [row_read(row, names) for row in stored.get("rows", ())],
        "struck_off": struck_off_read(stored, names, candidate_list),
        "members": [member_read(one, names) for one in stored.get("members", ())],
        "votes": votes_read(stored.get("votes"), names),
    }


def fresh_enough(candidate_list: CandidateList, wait: float, behind: Behind) -> None:
    """Wait if asked to, and know the list as it is afterwards."""
    if wait:
        wait_until_fresh(candidate_list.pk, wait, behind)
        candidate_list.refresh_from_db(fields=["inputs_revision", "opinions_open", "name"])


def hidden_boats(stored: Json) -> list[str]:
    """Those in the order on which there are valuations that the reader may not see."""
    return [row["candidate_id"] for row in stored.get("rows", ()) if row.get("opinions_hidden")]


def hidden_ballots(stored: Json) -> bool:
    return any(
        member.get("hidden") and member["source"] == "ballot"
        for member in stored.get("members", ())
    )


def row_read(row: Json, names: Names) -> Json:
    row = {"opinions_hidden": False, **row}  # an earlier method did not say so
    condition = row["condition"]
    said = [sentences.place(row), sentences.condition(condition), sentences.structure(condition)]
    if row["surplus"]:
        said.append(sentences.surplus(row["surplus"]))
    return {
        **row,
        "name": names.boat(row["candidate_id"]),
        "strike_off_advised": bool(row["advice"]),
        "advice": [told(one, names) for one in row["advice"]],
        "before_buying": to_be_judged(row),
        "sentences": [sentence for sentence in said if sentence],
    }


def told(one: Json, names: Names) -> Json:
    return {**one, "sentence": sentences.advice(one, names)}


def to_be_judged(stored: Json) -> list[Json]:
    """What an earlier method stored, and nobody has worked out anew yet, says nothing of it."""
    return [
        {**one, "sentence": sentences.before_buying(one)} for one in stored.get("before_buying", ())
    ]


def struck_off_read(stored: Json, names: Names, candidate_list: CandidateList) -> list[Json]:
    """Apart from the others, each with the reason people gave. One query."""
    rows = stored.get("struck_off", ())
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


def member_read(member: Json, names: Names) -> Json:
    return {
        "hidden": False,
        **member,
        "name": names.person(member["person_id"]),
        "sentence": sentences.far_from_group(member, names),
    }


def votes_read(votes: Json | None, names: Names) -> Json | None:
    if votes is None:
        return None
    hidden = votes.get("hidden", False)
    said = [] if hidden else sentences.votes(votes, names)
    return {**votes, "hidden": hidden, "sentences": said}


def order_read(person: Person, list_id: uuid.UUID, wait: float = 0) -> Json:
    """The buyers' orders and the votes alone."""
    board = board_read(person, list_id, wait)
    return {key: board[key] for key in (*ENVELOPE, "list", "members", "votes")}


# --- One candidate -------------------------------------------------------------------------------


@dataclass(frozen=True)
class StoredCandidate:
    candidate: Candidate
    stored: CandidateAppraisal | None
    answer: Json

    @property
    def appraisal(self) -> ListAppraisal | None:
        return self.stored.list_appraisal if self.stored else None


@dataclass(frozen=True)
class SeenCandidate:
    """The same with the results of her list that the reader may see, both of one revision."""

    found: StoredCandidate
    seen: Seen


def candidate_seen(
    person: Person,
    candidate_id: uuid.UUID,
    wait: float,
    behind: Behind,
    seen_by: Callable[[Reader, uuid.UUID], Seen],
) -> SeenCandidate:
    for _ in range(TRIES):
        found = candidate_stored(person, candidate_id, wait, behind)
        reader = Reader.of(person, found.candidate.list)
        seen = seen_by(reader, found.candidate.list_id)
        if seen.belongs_to(found.stored):
            return SeenCandidate(found, seen)
    return SeenCandidate(found, Seen(found.appraisal, boats={}))


def candidate_stored(
    person: Person, candidate_id: uuid.UUID, wait: float, behind: Behind = boards_behind
) -> StoredCandidate:
    """What is stored of a candidate, and the beginning of every answer about it. Three queries."""
    candidate = candidate_for(person, candidate_id)
    fresh_enough(candidate.list, wait, behind)
    stored = (
        CandidateAppraisal.objects.select_related("list_appraisal")
        .filter(candidate=candidate)
        .first()
    )
    appraisal = stored.list_appraisal if stored else None
    return StoredCandidate(
        candidate=candidate,
        stored=stored,
        answer={
            **envelope(
                candidate.list,
                revision=stored.revision if stored else 0,
                computed_at=appraisal.computed_at if appraisal else None,
                appraisal=appraisal,
                behind=behind,
            ),
            "candidate": {"id": str(candidate.pk), "name": candidate.name},
            "list_id": str(candidate.list_id),
        },
    )


def rollup_read(person: Person, candidate_id: uuid.UUID, wait: float = 0) -> Json:
    found = candidate_stored(person, candidate_id, wait)
    rollup = found.stored.rollup if found.stored else {}
    names = names_of(found.candidate.list)
    titles = {one["remedy"]: one["title"] for one in rollup.get("remedies", ())}
    return {
        **found.answer,
        "rollup": (
            rollup
            and {
                **rollup,
                "assumed": [
                    {**one, "sentence": sentences.assumption(one, titles)}
                    for one in rollup.get("assumed", ())
                ],
                "per_buyer": [
                    {**one, "name": names.person(one["person_id"])}
                    for one in rollup.get("per_buyer", ())
                ],
                "sentence": sentences.missing(rollup["missing"]),
            }
        )
        or None,
    }


def consensus_read(person: Person, candidate_id: uuid.UUID, wait: float = 0) -> Json:
    found = candidate_stored(person, candidate_id, wait)
    consensus = found.stored.consensus if found.stored else {}
    names = names_of(found.candidate.list)
    return {
        **found.answer,
        "consensus": (
            consensus
            and {
                **consensus,
                "checkpoints": [checkpoint_read(one, names) for one in consensus["checkpoints"]],
                "ruled_out": [
                    {**one, "said_by": [named(said, names) for said in one["said_by"]]}
                    for one in consensus["ruled_out"]
                ],
                "sentence": " ".join(
                    (
                        sentences.condition(consensus["condition"]),
                        sentences.structure(consensus["condition"]),
                    )
                ),
                "sentences": [
                    *sentences.rests_on(consensus),
                    *(
                        sentences.assumption({"code": "age_unknown", **age}, {})
                        for age in consensus.get("ages", ())
                        if not age["known"]
                    ),
                ],
            }
        )
        or None,
    }


def checkpoint_read(one: Json, names: Names) -> Json:
    return {
        **one,
        "doubt": one["doubt"] and named(one["doubt"], names),
        "reports": [named(report, names) for report in one["reports"]],
        "could_not_look": [named(said, names) for said in one["could_not_look"]],
    }


def named(said: Json, names: Names) -> Json:
    return {**said, "name": names.person(said["person_id"]) if said["person_id"] else ""}


def reasons_read(person: Person, candidate_id: uuid.UUID, wait: float = 0) -> Json:
    read = candidate_seen(person, candidate_id, wait, boards_behind, board_seen)
    found, candidate = read.found, read.found.candidate
    reasons = read.seen.reasons(found.stored)
    told_reasons = reasons_told(reasons, candidate, names_of(candidate.list))
    return {**found.answer, "reasons": told_reasons or None}


def reasons_told(reasons: Json, candidate: Candidate, names: Names) -> Json:
    """Stored reasons in words; empty if there are none."""
    if not reasons:
        return {}
    # What an earlier method stored, and nobody has worked out anew yet, says nothing `against`.
    compared = [{"against": None, **one} for one in reasons["compared"]]
    return {
        **reasons,
        "stage": candidate.stage,
        "stage_reason": candidate.stage_reason,
        "strike_off_advised": bool(reasons["advice"]),
        "advice": [told(one, names) for one in reasons["advice"]],
        "before_buying": to_be_judged(reasons),
        "compared": [{**one, "sentence": sentences.compared(one, names)} for one in compared],
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
