"""The present state of what goes with buying a boat, as plain rows."""

import uuid
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, F, Q

from apps.boats.gates.models import Gate
from apps.ownership.models import HandoverItem
from apps.purchase.models import Offer
from apps.surveys.models import SurveyBallot, SurveyVote

# Items of a handover that nobody looked for, or of which too few were found.
TO_FIND = Q(found=None) | Q(found__lt=F("promised"))


@dataclass(frozen=True)
class GateState:
    """A gate that is needed, open, and has a day."""

    candidate_id: uuid.UUID
    code: str
    due_on: date


@dataclass(frozen=True)
class SurveyVoteState:
    """An open vote on a survey that has a last day, and who voted, never how."""

    id: uuid.UUID
    candidate_id: uuid.UUID
    closes_on: date
    given: set[uuid.UUID]


@dataclass(frozen=True)
class OfferState:
    """A price that waits for its answer until a day."""

    id: uuid.UUID
    candidate_id: uuid.UUID
    side: str
    answer_by: date


@dataclass(frozen=True)
class HandoverState:
    """How many items of a boat's handover were not found, and how many nobody looked for."""

    candidate_id: uuid.UUID
    missing: int
    unchecked: int
    handed_over_on: date | None


def gates_read(list_ids: Collection[uuid.UUID]) -> list[GateState]:
    rows = Gate.objects.filter(
        candidate__list__in=list_ids, needed=True, settled=False, due_on__isnull=False
    )
    return [
        GateState(candidate, code, due_on)
        for candidate, code, due_on in rows.values_list("candidate_id", "code", "due_on")
        if due_on is not None
    ]


def survey_votes_read(list_ids: Collection[uuid.UUID]) -> list[SurveyVoteState]:
    rows = SurveyVote.objects.filter(
        candidate__list__in=list_ids, closed_at=None, closes_on__isnull=False
    )
    given: dict[uuid.UUID, set[uuid.UUID]] = defaultdict(set)
    ballots = SurveyBallot.objects.filter(vote__in=rows)
    for vote, person in ballots.values_list("vote_id", "person_id"):
        given[vote].add(person)
    return [
        SurveyVoteState(pk, candidate, closes_on, given[pk])
        for pk, candidate, closes_on in rows.values_list("pk", "candidate_id", "closes_on")
        if closes_on is not None
    ]


def offers_read(list_ids: Collection[uuid.UUID]) -> list[OfferState]:
    rows = Offer.objects.filter(
        candidate__list__in=list_ids, state=Offer.State.MADE, answer_by__isnull=False
    )
    return [
        OfferState(pk, candidate, side, answer_by)
        for pk, candidate, side, answer_by in rows.values_list(
            "pk", "candidate_id", "side", "answer_by"
        )
        if answer_by is not None
    ]


def handovers_read(list_ids: Collection[uuid.UUID]) -> list[HandoverState]:
    """Of boats where something is still to be found."""
    rows = (
        HandoverItem.objects.filter(TO_FIND, candidate__list__in=list_ids)
        .order_by()
        .values("candidate_id", "candidate__handover__handed_over_on")
        .annotate(unchecked=Count("pk", filter=Q(found=None)), all=Count("pk"))
    )
    return [
        HandoverState(
            row["candidate_id"],
            row["all"] - row["unchecked"],
            row["unchecked"],
            row["candidate__handover__handed_over_on"],
        )
        for row in rows
    ]
