"""Waiting conditions: what waits for whom, now or later, from the state of the lists.

Nothing here is stored: `storing.py` compares the conditions with the stored notifications, adds new
ones and settles those that no longer hold.
"""

import uuid
from collections import defaultdict
from collections.abc import Callable
from datetime import UTC, timedelta

from apps.groups.rules import Action
from apps.notifications.mail.periods import moment
from apps.notifications.rules.buying import BUYING
from apps.notifications.rules.drafts import Conditions, Draft, DraftPeriod
from apps.notifications.rules.state import GroupState, MemberState, VisitState
from apps.viewings.models import Viewing

DRAFT_LEFT_AFTER = timedelta(days=1)
REPORT_WITHIN = timedelta(hours=12)  # of the visit's start; common practice, no source
REPORT_NOT_ASKED_AFTER = timedelta(days=60)
INVITATION_WARNING = timedelta(days=2)


def waiting(state: GroupState) -> list[DraftPeriod]:
    return [condition for rule in RULES for condition in rule(state)]


def questions(state: GroupState) -> Conditions:
    """A question that somebody else assigned, and again on the day before it is due."""
    for one in state.questions:
        member = state.members.get(one.assignee_id)
        if member is None:
            continue
        facts = {"question": one.question, "due_on": one.due_on and one.due_on.isoformat()}
        if one.added_by_id != one.assignee_id:
            draft = state.on_boat(member, "question_given", one.id, "given", one.candidate_id)
            yield DraftPeriod(draft.with_facts(**facts, by=[str(one.added_by_id)]))
        if one.due_on is not None:
            cause = one.due_on.isoformat()
            draft = state.on_boat(member, "question_due", one.id, cause, one.candidate_id)
            since = moment(one.due_on - timedelta(days=1), 0, member.zone)
            yield DraftPeriod(draft.with_facts(**facts), since=since)


def visits(state: GroupState) -> Conditions:
    """A visit tomorrow, and a past visit from which the person who went posted nothing."""
    posted = {(one.viewing_id, one.author_id) for one in state.submissions}
    for visit in state.visits:
        member = state.members.get(visit.person_id)
        if member is None:
            continue
        if visit.state == Viewing.State.PLANNED:
            yield _visit_ahead(state, member, visit)
        # A draft has its own notification.
        if member.may(Action.SUBMIT) and (visit.id, visit.person_id) not in posted:
            draft = _visit(state, member, visit, "visit_unreported")
            yield DraftPeriod(
                draft,
                since=visit.starts_at + REPORT_WITHIN,
                until=visit.starts_at + REPORT_NOT_ASKED_AFTER,
            )


def _visit_ahead(state: GroupState, member: MemberState, visit: VisitState) -> DraftPeriod:
    day = visit.starts_at.astimezone(member.zone).date()
    return DraftPeriod(
        _visit(state, member, visit, "visit_ahead"),
        since=moment(day - timedelta(days=1), 0, member.zone),
        until=visit.starts_at,
    )


def _visit(state: GroupState, member: MemberState, visit: VisitState, type: str) -> Draft:
    at = visit.starts_at.astimezone(UTC).isoformat()
    draft = state.on_boat(member, type, visit.id, at, visit.candidate_id)
    return draft.with_facts(starts_at=at, kind=visit.kind)


def trips(state: GroupState) -> Conditions:
    """A trip tomorrow, until its day ends in its time zone."""
    for one in state.travels:
        if one.person_id in state.members:
            yield DraftPeriod(
                Draft(
                    person_id=one.person_id,
                    type="trip_ahead",
                    thing_id=one.trip_id,
                    cause=one.day.isoformat(),
                    facts={"name": one.name, "day": one.day.isoformat()},
                ),
                since=moment(one.day - timedelta(days=1), 0, one.zone),
                until=moment(one.day + timedelta(days=1), 0, one.zone),
            )


def drafts(state: GroupState) -> Conditions:
    for one in state.submissions:
        member = state.members.get(one.author_id)
        if one.draft and member is not None and member.may(Action.SUBMIT):
            yield DraftPeriod(
                state.on_boat(member, "draft_left", one.id, "left", one.candidate_id),
                since=one.updated_at + DRAFT_LEFT_AFTER,
            )


def votes(state: GroupState) -> Conditions:
    """Buyers who looked at a boat without giving a vote, where other buyers gave theirs."""
    looked: dict[uuid.UUID, set[uuid.UUID]] = defaultdict(set)
    called: dict[uuid.UUID, set[uuid.UUID]] = defaultdict(set)
    for one in state.submissions:
        if not one.draft:
            looked[one.candidate_id].add(one.author_id)
            if one.has_vote:
                called[one.candidate_id].add(one.author_id)
    for boat, given in called.items():
        for member in _buyers(state):
            if member.id in looked[boat]:
                yield from _missing(state, member, "vote_missing", boat, given)


def valuations(state: GroupState) -> Conditions:
    for boat, given in state.valuations.items():
        for member in _buyers(state):
            yield from _missing(state, member, "valuation_missing", boat, given)


def _missing(
    state: GroupState, member: MemberState, type: str, boat: uuid.UUID, given: set[uuid.UUID]
) -> Conditions:
    """A missing opinion, with how many others gave theirs; who gave it is not shown here."""
    others = _buying(state, given) - {member.id}
    if others and member.id not in given and boat in state.boats and state.boats[boat].open:
        draft = state.on_boat(member, type, boat, "missing", boat)
        yield DraftPeriod(draft.with_facts(others=len(others)))


def ballots(state: GroupState) -> Conditions:
    yield from _missing_on_list(state, "ballot_missing", state.ballots)


def wants(state: GroupState) -> Conditions:
    yield from _missing_on_list(state, "wants_missing", state.wants)


def _missing_on_list(
    state: GroupState, type: str, given_by_list: dict[uuid.UUID, set[uuid.UUID]]
) -> Conditions:
    for list_id, given in given_by_list.items():
        for member in _buyers(state):
            others = _buying(state, given) - {member.id}
            if others and member.id not in given:
                yield DraftPeriod(
                    Draft(
                        person_id=member.id,
                        type=type,
                        thing_id=list_id,
                        cause="missing",
                        facts={"others": len(others)},
                        list_id=list_id,
                    )
                )


def judgements(state: GroupState) -> Conditions:
    """Free wants that their owner must judge for boats that the owner has looked at."""
    looked = {(one.author_id, one.candidate_id) for one in state.submissions if not one.draft}
    asked: dict[tuple[uuid.UUID, uuid.UUID], list[str]] = defaultdict(list)
    for want, list_id, person in state.free_wants:
        member = state.members.get(person)
        if member is None or not member.buys:
            continue
        for boat in state.boats.values():
            seen = boat.list_id == list_id and boat.open and (person, boat.id) in looked
            if seen and (want, boat.id) not in state.judged:
                asked[person, boat.id].append(str(want))
    for (person, candidate), missing in asked.items():
        draft = state.on_boat(
            state.members[person], "judgement_missing", candidate, "missing", candidate
        )
        yield DraftPeriod(draft.with_facts(wants=sorted(missing)))


def invitations(state: GroupState) -> Conditions:
    for one in state.invitations:
        member = state.members.get(one.created_by_id)
        if member is not None and member.may(Action.MANAGE):
            yield DraftPeriod(
                Draft(
                    person_id=member.id,
                    type="invitation_runs_out",
                    thing_id=one.pk,
                    cause="late",
                    facts={"role": one.role, "expires_at": one.expires_at.isoformat()},
                ),
                since=one.expires_at - INVITATION_WARNING,
                until=one.expires_at,
            )


RULES: tuple[Callable[[GroupState], Conditions], ...] = (
    questions,
    *BUYING,
    visits,
    trips,
    drafts,
    votes,
    valuations,
    ballots,
    wants,
    judgements,
    invitations,
)


def _buyers(state: GroupState) -> list[MemberState]:
    return [member for member in state.members.values() if member.buys]


def _buying(state: GroupState, people: set[uuid.UUID]) -> set[uuid.UUID]:
    return {person for person in people if person in state.members and state.members[person].buys}
