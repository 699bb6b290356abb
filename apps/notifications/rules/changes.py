"""Notifications of changes: one line for each kind of event of a group.

An event that is not in the table makes no notification of a change, but may change what waits for
somebody. Nobody is notified of their own actions, or of events before they joined.
"""

import uuid
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC

from django.utils import timezone

from apps.boats.models import PriceRecord
from apps.events.models import Event
from apps.groups.rules import Action
from apps.notifications.rules.background import Background
from apps.notifications.rules.drafts import Draft, Fold, Json, from_first, joined, newest
from apps.notifications.rules.state import MemberState
from apps.notifications.types import NOTIFICATION_TYPES
from apps.viewings.models import FollowUp, Viewing

Ids = Iterable[uuid.UUID]
Notifying = Callable[[Event, Background], Iterator[Draft]]
Facts = Callable[[Event, Background], Json | None]
To = Callable[[Event, Background], Ids]


def changed(events: Sequence[Event], members: Mapping[uuid.UUID, MemberState]) -> list[Draft]:
    """The notifications of these events, in their order."""
    background = Background(events, members)
    return [
        draft
        for event in events
        if event.kind in CHANGES
        for draft in CHANGES[event.kind](event, background)
        if draft.person_id != event.by_id
        and event.only_for in (None, draft.person_id)
        and (draft.club_id is not None or _belonged(draft.person_id, event, members))
    ]


def _belonged(person: uuid.UUID, event: Event, members: Mapping[uuid.UUID, MemberState]) -> bool:
    return person in members and members[person].joined_at <= event.created_at


def list_of(event: Event) -> uuid.UUID | None:
    if event.thing in ("list", "list_appraisal"):
        return event.thing_id
    found = event.facts.get("list")
    return uuid.UUID(found) if found else None


def boat_of(event: Event) -> uuid.UUID | None:
    if event.thing == "candidate":
        return event.thing_id
    found = event.facts.get("candidate")
    return uuid.UUID(found) if found else None


def draft_of(event: Event, type: str, person: uuid.UUID, facts: Json, fold: Fold) -> Draft:
    things = {"list": list_of(event), "candidate": boat_of(event), "group": event.group}
    return Draft(
        person_id=person,
        type=type,
        thing_id=things.get(NOTIFICATION_TYPES[type].thing) or event.thing_id,
        cause=f"event {event.number}",
        facts={**facts, "by": [str(event.by_id)] if event.by_id else []},
        list_id=list_of(event),
        candidate_id=boat_of(event),
        fold=fold,
        event=event.number,
    )


# --- Whom ----------------------------------------------------------------------------------------


def everybody(_: Event, background: Background) -> Ids:
    return background.members


def who_looked(event: Event, background: Background) -> Ids:
    """The people whose own look at the same boat counts."""
    boat = boat_of(event)
    return {author for author, _, _ in background.looked.get(boat, ())} if boat else ()


def who_goes(event: Event, background: Background) -> Ids:
    viewing = background.viewings.get(event.thing_id)
    return [person.pk for person in viewing.people.all()] if viewing else ()


def who_asked(event: Event, background: Background) -> Ids:
    question = background.questions.get(event.thing_id)
    return [question.added_by_id] if question else ()


def who_travels(event: Event, background: Background) -> Ids:
    return background.travellers.get(event.thing_id, ())


def who_asked_for_it(event: Event, background: Background) -> Ids:
    asked_by = background.looks.get(event.thing_id)
    return [asked_by] if asked_by else ()


def who_buys(_: Event, background: Background) -> Ids:
    return [one.id for one in background.members.values() if one.buys]


def who_accounts(_: Event, background: Background) -> Ids:
    return [one.id for one in background.members.values() if one.may(Action.ACCOUNT)]


def who_manages(_: Event, background: Background) -> Ids:
    return [one.id for one in background.members.values() if one.may(Action.MANAGE)]


# --- What ----------------------------------------------------------------------------------------


def no_more(_: Event, __: Background) -> Json:
    return {}


def the_boat(event: Event, _: Background) -> Json:
    return {"candidates": [str(event.thing_id)]}


def the_thing(event: Event, _: Background) -> Json:
    return {"things": [str(event.thing_id)]}


def the_outcome(event: Event, _: Background) -> Json:
    return {"outcome": event.facts["outcome"]}


def the_topic(event: Event, _: Background) -> Json:
    return {"topics": [event.facts["topic"]]}


def the_stage(event: Event, _: Background) -> Json:
    return {"from": event.facts["from"], "to": event.facts["to"]}


def the_offer(event: Event, _: Background) -> Json:
    return {"state": event.kind.partition(".")[2], "side": event.facts["side"]}


def the_brief(event: Event, _: Background) -> Json | None:
    """None if only its name changed."""
    fields = event.facts.get("brief") or ()
    return {"fields": list(fields)} if fields else None


def the_price(event: Event, background: Background) -> Json | None:
    """The new and the previous price; None for an older price that was added late."""
    noted = background.prices.get(event.thing_id, [])
    record = next((one for one in noted if str(one.pk) == event.facts.get("price")), None)
    if record is None:
        return None
    earlier = [one for one in noted if one.pk < record.pk]
    before = max(earlier, key=lambda one: (one.asked_on, one.pk), default=None)
    if before is not None and before.asked_on > record.asked_on:
        return None
    now, then = _money(record), before and _money(before)
    return None if now == then else {"before": then, "now": now}


def _money(record: PriceRecord) -> Json:
    return {"amount": f"{record.amount:.2f}", "currency": record.currency}


def the_visit(event: Event, background: Background) -> Json | None:
    """None for a visit that was made: the people who went know it."""
    viewing = background.viewings.get(event.thing_id)
    if viewing is None or viewing.state == Viewing.State.MADE:
        return None
    if viewing.starts_at < timezone.now():
        return None
    starts_at = viewing.starts_at.astimezone(UTC).isoformat()
    return {"state": viewing.state, "starts_at": starts_at, "kind": viewing.kind}


def the_answer(event: Event, background: Background) -> Json | None:
    question = background.questions.get(event.thing_id)
    if question is None or question.state != FollowUp.State.ANSWERED:
        return None
    return {"question": question.question}


def the_clearance(event: Event, background: Background) -> Json | None:
    clearance = background.clearances.get(event.thing_id)
    return {"checkpoints": [clearance.checkpoint_id]} if clearance else None


def the_decision(event: Event, _: Background) -> Json:
    return {"accepted": event.kind == "admission_request.accepted"}


def the_plan(event: Event, _: Background) -> Json | None:
    """None if no boat was added or dropped: new times are in the calendar."""
    found = {name: event.facts.get(name, []) for name in ("came_in", "fell_out")}
    return {"day": event.facts["day"], **found} if any(found.values()) else None


def the_appointments(event: Event, _: Background) -> Json:
    return {"day": event.facts["day"], "boats": event.facts.get("candidates", [])}


# --- The table -----------------------------------------------------------------------------------


def notify(
    type: str, facts: Facts = no_more, *, to: To = everybody, fold: Fold = newest
) -> Notifying:
    """A notification with the same facts for several people."""

    def notifying(event: Event, background: Background) -> Iterator[Draft]:
        found = facts(event, background)
        if found is not None:
            for person in to(event, background):
                yield draft_of(event, type, person, found, fold)

    return notifying


def left_club(event: Event, background: Background) -> Iterator[Draft]:
    """To all members of the group, and to the club's secretaries without the group's name."""
    for person in background.members:
        yield draft_of(event, "club_left", person, {}, newest)
    club = event.facts["club"]
    for person in background.secretaries[club]:
        draft = draft_of(event, "group_gone", person, {}, newest)
        yield replace(draft, club_id=uuid.UUID(club), facts={})


def professional_found(event: Event, background: Background) -> Iterator[Draft]:
    """To each person whose own level differs from a professional's: the checkpoints."""
    levels, boat = background.professional.get(event.thing_id), boat_of(event)
    if not levels or boat is None:
        return
    differing = defaultdict(set)
    for author, checkpoint, level in background.looked.get(boat, ()):
        if checkpoint in levels and levels[checkpoint] != level:
            differing[author].add(checkpoint)
    for author, checkpoints in differing.items():
        facts = {"checkpoints": sorted(checkpoints)}
        yield draft_of(event, "professional_differs", author, facts, joined("checkpoints"))


CHANGES: dict[str, Notifying] = {
    "candidate.added": notify("boats_added", the_boat, fold=joined("candidates")),
    "candidate.price_noted": notify("price_changed", the_price, fold=from_first("before", "now")),
    "candidate.stage_changed": notify("stage_changed", the_stage, fold=from_first("from", "to")),
    "list.changed": notify("brief_changed", the_brief, fold=joined("fields")),
    "list.opinions_opened": notify("opinions_opened"),
    "quote.added": notify("quote_came", the_thing, fold=joined("things")),
    "entry.expense_added": notify(
        "money_entered", the_thing, to=who_accounts, fold=joined("things")
    ),
    "entry.payment_added": notify(
        "money_entered", the_thing, to=who_accounts, fold=joined("things")
    ),
    "entry.reversed": notify("money_entered", the_thing, to=who_accounts, fold=joined("things")),
    "survey_vote.opened": notify("survey_vote_opened", to=who_buys),
    "survey_vote.closed": notify("survey_vote_closed", the_outcome),
    "survey.commissioned": notify("survey_commissioned"),
    "survey_report.entered": notify("survey_reported"),
    "clause.worded": notify("agreement_worded", the_topic, to=who_buys, fold=joined("topics")),
    **dict.fromkeys(
        (f"offer.{state}" for state in ("made", "accepted", "refused", "withdrawn", "lapsed")),
        notify("offer_changed", the_offer),
    ),
    "viewing.changed": notify("visit_changed", the_visit, to=who_goes),
    "follow_up.changed": notify("question_answered", the_answer, to=who_asked),
    "submission.superseded": notify(
        "findings_corrected", the_thing, to=who_looked, fold=joined("things")
    ),
    "submission.submitted": professional_found,
    "clearance.added": notify("doubt_cleared", the_clearance, fold=joined("checkpoints")),
    "trip.planned": notify("trip_planned", the_plan, to=who_travels),
    "trip.cannot_be_kept": notify("trip_impossible", the_appointments, to=who_travels),
    "second_opinion_request.taken": notify("second_opinion_taken", to=who_asked_for_it),
    "second_opinion_request.handed_back": notify("second_opinion_given_back", to=who_asked_for_it),
    "second_opinion_request.declined": notify("second_opinion_given_back", to=who_asked_for_it),
    "second_opinion_request.access_lapsed": notify(
        "second_opinion_given_back", to=who_asked_for_it
    ),
    "second_opinion_request.answered": notify("second_opinion_answered"),
    "admission_request.accepted": notify("admission_answered", the_decision, to=who_manages),
    "admission_request.declined": notify("admission_answered", the_decision, to=who_manages),
    "group.left_club": left_club,
    "member.joined": notify("member_joined"),
}
