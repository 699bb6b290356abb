"""What waits for somebody while a boat is bought: gates, votes, offers, and her handover."""

from collections.abc import Callable
from datetime import date, datetime, timedelta

from apps.groups.rules import Action
from apps.notifications.mail.periods import moment
from apps.notifications.rules.buying_state import GateState, HandoverState
from apps.notifications.rules.drafts import Conditions, Draft, DraftPeriod
from apps.notifications.rules.state import GroupState, MemberState

DAY = timedelta(days=1)


def gates(state: GroupState) -> Conditions:
    """What is needed before buying and still open: from the day before it is due, and once more
    when that day is over. To everybody who may settle it."""
    for one in state.gates:
        if not state.boats[one.candidate_id].open:
            continue
        for member in state.members.values():
            if member.may(Action.ADD):
                yield from _gate(state, member, one)


def _gate(state: GroupState, member: MemberState, gate: GateState) -> Conditions:
    over = moment(gate.due_on + timedelta(days=1), 0, member.zone)
    cause = f"{gate.code} {gate.due_on.isoformat()}"
    facts = {"gate": gate.code, "due_on": gate.due_on.isoformat()}
    coming = _gate_draft(state, member, gate, cause)
    since = moment(gate.due_on - timedelta(days=1), 0, member.zone)
    yield DraftPeriod(coming.with_facts(**facts, passed=False), since=since, until=over)
    passed = _gate_draft(state, member, gate, f"{cause} passed")
    yield DraftPeriod(passed.with_facts(**facts, passed=True), since=over)


def _gate_draft(state: GroupState, member: MemberState, gate: GateState, cause: str) -> Draft:
    boat = gate.candidate_id
    return state.on_boat(member, "gate_due", boat, cause, boat)


def survey_ballots(state: GroupState) -> Conditions:
    """An own ballot that is missing, on the last two days of a vote on a survey. Who else voted is
    not told, and nobody else is told of it."""
    for vote in state.survey_votes:
        if not state.boats[vote.candidate_id].open:
            continue
        for member in state.members.values():
            if not member.buys or not member.may(Action.OPINE) or member.id in vote.given:
                continue
            cause = f"{vote.id} {vote.closes_on.isoformat()}"
            boat = vote.candidate_id
            draft = state.on_boat(member, "survey_ballot_missing", boat, cause, boat)
            since, until = _last_days(vote.closes_on, member)
            yield DraftPeriod(
                draft.with_facts(closes_on=vote.closes_on.isoformat()), since=since, until=until
            )


def offers(state: GroupState) -> Conditions:
    """A price that lapses tomorrow or today if nobody answers it. To the whole group."""
    for offer in state.offers:
        for member in state.members.values():
            cause = f"{offer.id} {offer.answer_by.isoformat()}"
            boat = offer.candidate_id
            draft = state.on_boat(member, "offer_lapses", boat, cause, boat)
            since, until = _last_days(offer.answer_by, member)
            facts = {"side": offer.side, "answer_by": offer.answer_by.isoformat()}
            yield DraftPeriod(draft.with_facts(**facts), since=since, until=until)


def _last_days(day: date, member: MemberState) -> tuple[datetime, datetime]:
    """From the beginning of the day before until the end of the day."""
    return moment(day - DAY, 0, member.zone), moment(day + DAY, 0, member.zone)


def handovers(state: GroupState) -> Conditions:
    """Items that were not found, at once; those that nobody looked for, once the day is over."""
    for one in state.handovers:
        for member in state.members.values():
            if member.may(Action.ADD):
                yield from _handover(state, member, one)


def _handover(state: GroupState, member: MemberState, one: HandoverState) -> Conditions:
    boat = one.candidate_id
    if one.missing:
        draft = state.on_boat(member, "handover_items_missing", boat, "missing", boat)
        yield DraftPeriod(draft.with_facts(items=one.missing, looked_for=True))
    if one.unchecked and one.handed_over_on is not None:
        draft = state.on_boat(member, "handover_items_missing", boat, "unchecked", boat)
        since = moment(one.handed_over_on + DAY, 0, member.zone)
        yield DraftPeriod(draft.with_facts(items=one.unchecked, looked_for=False), since=since)


BUYING: tuple[Callable[[GroupState], Conditions], ...] = (
    gates,
    survey_ballots,
    offers,
    handovers,
)
