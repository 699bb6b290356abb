"""What the events of a group mean to its members: one line for each kind of event.

An event that is not in the table tells nobody anything, though it may change what waits for
somebody. Nobody is told of their own doings, nor of what was before they joined.
"""

import uuid
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC
from functools import cached_property

from django.utils import timezone

from apps.boats.models import PriceRecord
from apps.desk.models import LookRequest
from apps.exchange.models import Event
from apps.notices.drafts import Draft, Fold, Json, from_first, joined, newest
from apps.notices.matters import MATTERS
from apps.notices.state import Member
from apps.planning.models import Trip, TripParty
from apps.viewings.models import LIVE, Clearance, Finding, FollowUp, Submission, Viewing

Ids = Iterable[uuid.UUID]


@dataclass
class Background:
    """What has to be looked up to tell of these events: only what is asked for, once for all."""

    events: Sequence[Event]
    members: Mapping[uuid.UUID, Member]

    def ids(self, *kinds: str) -> list[uuid.UUID]:
        return [event.thing_id for event in self.events if event.kind in kinds]

    @cached_property
    def prices(self) -> dict[uuid.UUID, list[PriceRecord]]:
        """By candidate, in the order in which they were noted."""
        found = defaultdict(list)
        for one in PriceRecord.objects.filter(
            candidate__in=self.ids("candidate.price_noted")
        ).order_by("pk"):
            found[one.candidate_id].append(one)
        return found

    @cached_property
    def viewings(self) -> dict[uuid.UUID, Viewing]:
        return Viewing.objects.prefetch_related("people").in_bulk(self.ids("viewing.changed"))

    @cached_property
    def questions(self) -> dict[uuid.UUID, FollowUp]:
        return FollowUp.objects.in_bulk(self.ids("follow_up.changed"))

    @cached_property
    def looks(self) -> dict[uuid.UUID, uuid.UUID]:
        """Who asked for each look."""
        ids = [event.thing_id for event in self.events if event.thing == "look_request"]
        return dict(LookRequest.objects.filter(pk__in=ids).values_list("pk", "asked_by_id"))

    @cached_property
    def travellers(self) -> dict[uuid.UUID, set[uuid.UUID]]:
        """Who is on each trip, and who made it."""
        ids = [event.thing_id for event in self.events if event.thing == "trip"]
        found = {
            pk: {made_by}
            for pk, made_by in Trip.objects.filter(pk__in=ids).values_list("pk", "made_by")
        }
        for trip, person in TripParty.people.through.objects.filter(
            tripparty__trip__in=ids
        ).values_list("tripparty__trip_id", "person_id"):
            found.setdefault(trip, set()).add(person)
        return found

    @cached_property
    def clearances(self) -> dict[uuid.UUID, Clearance]:
        return Clearance.objects.in_bulk(self.ids("clearance.added"))

    @cached_property
    def professional(self) -> dict[uuid.UUID, dict[str, int]]:
        """Levels by checkpoint, by submission, of what professionals found."""
        found: dict[uuid.UUID, dict[str, int]] = defaultdict(dict)
        for submission, checkpoint, level in Finding.objects.filter(
            submission__in=self.ids("submission.submitted"),
            submission__capacity=Submission.Capacity.PROFESSIONAL,
            kind=Finding.Kind.LOOKED,
        ).values_list("submission_id", "checkpoint_id", "level"):
            found[submission][checkpoint] = level or 0  # there is one
        return found

    @cached_property
    def looked(self) -> dict[uuid.UUID, list[tuple[uuid.UUID, str, int]]]:
        """By candidate: whose own look at which checkpoint stands at which level."""
        boats = {
            event.facts["candidate"]
            for event in self.events
            if event.kind.startswith("submission.") and "candidate" in event.facts
        }
        live = Submission.objects.filter(
            LIVE, viewing__candidate__in=boats, capacity=Submission.Capacity.MEMBER
        )
        found = defaultdict(list)
        for boat, author, checkpoint, level in Finding.objects.filter(
            submission__in=live, kind=Finding.Kind.LOOKED
        ).values_list(
            "submission__viewing__candidate_id", "submission__author_id", "checkpoint_id", "level"
        ):
            found[boat].append((author, checkpoint, level or 0))  # there is one
        return found


Telling = Callable[[Event, Background], Iterator[Draft]]
Facts = Callable[[Event, Background], Json | None]
To = Callable[[Event, Background], Ids]


def changed(events: Sequence[Event], members: Mapping[uuid.UUID, Member]) -> list[Draft]:
    """What these events have to tell, in their order."""
    background = Background(events, members)
    return [
        draft
        for event in events
        if event.kind in CHANGES
        for draft in CHANGES[event.kind](event, background)
        if draft.person_id != event.by_id
        and event.only_for in (None, draft.person_id)
        and draft.person_id in members
        and members[draft.person_id].joined_at <= event.created_at
    ]


def list_of(event: Event) -> uuid.UUID | None:
    if event.thing in ("list", "list_appraisal"):
        return event.thing_id
    said = event.facts.get("list")
    return uuid.UUID(said) if said else None


def boat_of(event: Event) -> uuid.UUID | None:
    if event.thing == "candidate":
        return event.thing_id
    said = event.facts.get("candidate")
    return uuid.UUID(said) if said else None


def draft_of(event: Event, matter: str, person: uuid.UUID, facts: Json, fold: Fold) -> Draft:
    things = {"list": list_of(event), "candidate": boat_of(event), "group": event.group}
    return Draft(
        person_id=person,
        matter=matter,
        thing_id=things.get(MATTERS[matter].thing) or event.thing_id,
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
    """Those whose own look at the same boat stands."""
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


# --- What ----------------------------------------------------------------------------------------


def no_more(_: Event, __: Background) -> Json:
    return {}


def the_boat(event: Event, _: Background) -> Json:
    return {"candidates": [str(event.thing_id)]}


def the_thing(event: Event, _: Background) -> Json:
    return {"things": [str(event.thing_id)]}


def the_stage(event: Event, _: Background) -> Json:
    return {"from": event.facts["from"], "to": event.facts["to"]}


def the_brief(event: Event, _: Background) -> Json | None:
    """None if only its name changed."""
    fields = event.facts.get("brief") or ()
    return {"fields": list(fields)} if fields else None


def the_price(event: Event, background: Background) -> Json | None:
    """What is asked now and was before; None for an older price that was only noted late."""
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
    """None for a visit that was made: whoever went knows."""
    viewing = background.viewings.get(event.thing_id)
    if viewing is None or viewing.state == Viewing.State.MADE:
        return None
    if viewing.starts_at < timezone.now():
        return None
    return {"state": viewing.state, "starts_at": viewing.starts_at.astimezone(UTC).isoformat()}


def the_answer(event: Event, background: Background) -> Json | None:
    question = background.questions.get(event.thing_id)
    if question is None or question.state != FollowUp.State.ANSWERED:
        return None
    return {"question": question.question}


def the_clearance(event: Event, background: Background) -> Json | None:
    clearance = background.clearances.get(event.thing_id)
    return {"checkpoints": [clearance.checkpoint_id]} if clearance else None


def the_plan(event: Event, _: Background) -> Json | None:
    """None where no boat came in or fell out: when they are looked at is in the calendar."""
    said = {name: event.facts.get(name, []) for name in ("came_in", "fell_out")}
    return {"day": event.facts["day"], **said} if any(said.values()) else None


def the_appointments(event: Event, _: Background) -> Json:
    return {"day": event.facts["day"], "boats": event.facts.get("candidates", [])}


# --- The table -----------------------------------------------------------------------------------


def tell(
    matter: str, facts: Facts = no_more, *, to: To = everybody, fold: Fold = newest
) -> Telling:
    """The same facts to everybody who is told."""

    def telling(event: Event, background: Background) -> Iterator[Draft]:
        said = facts(event, background)
        if said is not None:
            for person in to(event, background):
                yield draft_of(event, matter, person, said, fold)

    return telling


def professional_found(event: Event, background: Background) -> Iterator[Draft]:
    """To each whose own look says another level than a professional's: where."""
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


CHANGES: dict[str, Telling] = {
    "candidate.added": tell("boats_added", the_boat, fold=joined("candidates")),
    "candidate.price_noted": tell("price_changed", the_price, fold=from_first("before", "now")),
    "candidate.stage_changed": tell("stage_changed", the_stage, fold=from_first("from", "to")),
    "list.changed": tell("brief_changed", the_brief, fold=joined("fields")),
    "list.opinions_opened": tell("opinions_opened"),
    "quote.added": tell("quote_came", the_thing, fold=joined("things")),
    "viewing.changed": tell("visit_changed", the_visit, to=who_goes),
    "follow_up.changed": tell("question_answered", the_answer, to=who_asked),
    "submission.superseded": tell(
        "findings_corrected", the_thing, to=who_looked, fold=joined("things")
    ),
    "submission.submitted": professional_found,
    "clearance.added": tell("doubt_cleared", the_clearance, fold=joined("checkpoints")),
    "trip.planned": tell("trip_planned", the_plan, to=who_travels),
    "trip.cannot_be_kept": tell("trip_impossible", the_appointments, to=who_travels),
    "look_request.taken": tell("look_taken", to=who_asked_for_it),
    "look_request.handed_back": tell("look_given_back", to=who_asked_for_it),
    "look_request.declined": tell("look_given_back", to=who_asked_for_it),
    "look_request.access_lapsed": tell("look_given_back", to=who_asked_for_it),
    "look_request.answered": tell("look_answered"),
    "member.joined": tell("member_joined"),
}
