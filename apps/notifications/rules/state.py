"""The present state of some lists of one group, as plain rows.

It takes a constant number of queries. For opinions it reads only who gave one, never what.
"""

import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Protocol, TypeVar
from zoneinfo import ZoneInfo

from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.list_models import CandidateList
from apps.boats.models import Ballot, Candidate, Judgement, Valuation, Want
from apps.boats.vocabulary import SETTLED
from apps.groups.models import Invitation, Membership
from apps.groups.rules import ALLOWED, Action
from apps.groups.selectors import live_members
from apps.notifications.models import Inbox
from apps.notifications.rules.buying_state import (
    GateState,
    HandoverState,
    OfferState,
    SurveyVoteState,
    gates_read,
    handovers_read,
    offers_read,
    survey_votes_read,
)
from apps.notifications.rules.drafts import Draft
from apps.planning.models import Trip, TripParty
from apps.viewings.models import FollowUp, Submission, Viewing

Ids = set[uuid.UUID]


@dataclass(frozen=True)
class MemberState:
    """A member of the group with a usable account."""

    id: uuid.UUID
    role: str
    buys: bool
    joined_at: datetime
    zone: ZoneInfo

    def may(self, action: Action) -> bool:
        return self.role in ALLOWED[action]


@dataclass(frozen=True)
class BoatState:
    id: uuid.UUID
    list_id: uuid.UUID
    open: bool


@dataclass(frozen=True)
class VisitState:
    id: uuid.UUID
    candidate_id: uuid.UUID
    starts_at: datetime
    state: str
    kind: str
    person_id: uuid.UUID


@dataclass(frozen=True)
class SubmissionSeen:
    """A submission without its content: whether it has a vote, not which."""

    id: uuid.UUID
    viewing_id: uuid.UUID
    candidate_id: uuid.UUID
    author_id: uuid.UUID
    draft: bool
    has_vote: bool
    updated_at: datetime


@dataclass(frozen=True)
class Question:
    id: uuid.UUID
    candidate_id: uuid.UUID
    assignee_id: uuid.UUID
    added_by_id: uuid.UUID
    due_on: date | None
    question: str


@dataclass(frozen=True)
class Travel:
    """One person on one trip that has a plan."""

    trip_id: uuid.UUID
    person_id: uuid.UUID
    name: str
    day: date
    zone: ZoneInfo


@dataclass
class GroupState:
    members: dict[uuid.UUID, MemberState]
    boats: dict[uuid.UUID, BoatState] = field(default_factory=dict)
    lists: Ids = field(default_factory=set)
    questions: list[Question] = field(default_factory=list)
    gates: list[GateState] = field(default_factory=list)
    survey_votes: list[SurveyVoteState] = field(default_factory=list)
    offers: list[OfferState] = field(default_factory=list)
    handovers: list[HandoverState] = field(default_factory=list)
    visits: list[VisitState] = field(default_factory=list)
    submissions: list[SubmissionSeen] = field(default_factory=list)
    valuations: dict[uuid.UUID, Ids] = field(default_factory=dict)  # candidate: who gave one
    ballots: dict[uuid.UUID, Ids] = field(default_factory=dict)  # list: who gave one
    wants: dict[uuid.UUID, Ids] = field(default_factory=dict)  # list: who has some
    free_wants: list[tuple[uuid.UUID, uuid.UUID, uuid.UUID]] = field(default_factory=list)
    judged: set[tuple[uuid.UUID, uuid.UUID]] = field(default_factory=set)  # want, candidate
    travels: list[Travel] = field(default_factory=list)
    invitations: list[Invitation] = field(default_factory=list)

    def on_boat(
        self,
        member: MemberState,
        type: str,
        thing_id: uuid.UUID,
        cause: str,
        candidate_id: uuid.UUID,
    ) -> Draft:
        return Draft(
            person_id=member.id,
            type=type,
            thing_id=thing_id,
            cause=cause,
            list_id=self.boats[candidate_id].list_id,
            candidate_id=candidate_id,
        )


def members_of(group_id: uuid.UUID) -> dict[uuid.UUID, MemberState]:
    """The present members who are people, with their time zones. Two queries."""
    rows: list[Membership] = list(
        live_members(group_id).filter(person__kind=Person.Kind.PERSON, person__is_active=True)
    )
    zones = dict(
        Inbox.objects.filter(person__in=[row.person_id for row in rows]).values_list(
            "person_id", "time_zone"
        )
    )
    return {
        row.person_id: MemberState(
            row.person_id,
            row.role,
            row.buys,
            row.created_at,
            ZoneInfo(zones.get(row.person_id, "UTC")),
        )
        for row in rows
    }


def state_read(
    group_id: uuid.UUID, list_ids: Collection[uuid.UUID], members: dict[uuid.UUID, MemberState]
) -> GroupState:
    """The state of these lists. Always seventeen queries."""
    state = GroupState(members)
    of_lists = {"candidate__list__in": list_ids}
    state.lists = set(
        CandidateList.objects.filter(pk__in=list_ids, group=group_id).values_list("pk", flat=True)
    )
    state.boats = {
        pk: BoatState(pk, list_id, stage not in SETTLED)
        for pk, list_id, stage in Candidate.objects.filter(list__in=list_ids).values_list(
            "pk", "list_id", "stage"
        )
    }
    state.questions = of_boats(state, _questions(list_ids))
    state.gates = of_boats(state, gates_read(list_ids))
    state.survey_votes = of_boats(state, survey_votes_read(list_ids))
    state.offers = of_boats(state, offers_read(list_ids))
    state.handovers = of_boats(state, handovers_read(list_ids))
    state.visits = of_boats(state, _visits(list_ids))
    state.submissions = of_boats(state, _submissions(list_ids))
    state.valuations = _by(
        Valuation.objects.filter(**of_lists).values_list("candidate_id", "person_id")
    )
    state.ballots = _by(
        Ballot.objects.filter(list__in=list_ids).values_list("list_id", "person_id")
    )
    wanted = list(
        Want.objects.filter(list__in=list_ids).values_list("pk", "list_id", "person_id", "subject")
    )
    state.wants = _by((list_id, person) for _, list_id, person, _ in wanted)
    state.free_wants = [
        (pk, list_id, person)
        for pk, list_id, person, subject in wanted
        if subject == Want.Subject.FREE
    ]
    state.judged = set(
        Judgement.objects.filter(
            want__list__in=list_ids, want__subject=Want.Subject.FREE
        ).values_list("want_id", "candidate_id")
    )
    state.travels = _travels(group_id)
    state.invitations = list(
        Invitation.objects.filter(group=group_id, used_at=None, withdrawn_at=None)
    )
    return state


class OfBoat(Protocol):
    @property
    def candidate_id(self) -> uuid.UUID: ...


Row = TypeVar("Row", bound=OfBoat)


def of_boats(state: GroupState, rows: Iterable[Row]) -> list[Row]:
    """Without those of a boat that was deleted while this is read."""
    return [row for row in rows if row.candidate_id in state.boats]


def _questions(list_ids: Collection[uuid.UUID]) -> list[Question]:
    """The open ones that somebody is to settle."""
    rows = FollowUp.objects.filter(candidate__list__in=list_ids, state=FollowUp.State.OPEN).exclude(
        assignee=None
    )
    names = ("pk", "candidate_id", "assignee_id", "added_by_id", "due_on", "question")
    return [Question(*row) for row in rows.values_list(*names)]


def _visits(list_ids: Collection[uuid.UUID]) -> list[VisitState]:
    """One for each person of each visit."""
    going = Viewing.people.through.objects.filter(viewing__candidate__list__in=list_ids).exclude(
        viewing__state=Viewing.State.CALLED_OFF
    )
    names = ("candidate_id", "starts_at", "state", "kind")
    rows = going.values_list("viewing_id", *(f"viewing__{name}" for name in names), "person_id")
    return [VisitState(*row) for row in rows]


def _submissions(list_ids: Collection[uuid.UUID]) -> list[SubmissionSeen]:
    rows = Submission.objects.filter(viewing__candidate__list__in=list_ids).values_list(
        "pk", "viewing_id", "viewing__candidate_id", "author_id", "state", "vote", "updated_at"
    )
    return [
        SubmissionSeen(
            pk, viewing, candidate, author, state == Submission.State.DRAFT, bool(vote), at
        )
        for pk, viewing, candidate, author, state, vote, at in rows
    ]


def _travels(group_id: uuid.UUID) -> list[Travel]:
    """Who goes on which planned trip, from two days ago on."""
    rows = TripParty.people.through.objects.filter(
        tripparty__trip__group=group_id,
        tripparty__trip__state=Trip.State.PLANNED,
        tripparty__trip__outcome=Trip.Outcome.PLANNED,
        tripparty__trip__day__gte=timezone.now().date() - timedelta(days=2),
    ).values_list(
        "tripparty__trip_id",
        "person_id",
        "tripparty__trip__name",
        "tripparty__trip__day",
        "tripparty__trip__time_zone",
    )
    return [Travel(trip, who, name, day, ZoneInfo(zone)) for trip, who, name, day, zone in rows]


def _by(pairs: Iterable[tuple[uuid.UUID, uuid.UUID]]) -> dict[uuid.UUID, Ids]:
    found: dict[uuid.UUID, Ids] = defaultdict(set)
    for of, person in pairs:
        found[of].add(person)
    return dict(found)
