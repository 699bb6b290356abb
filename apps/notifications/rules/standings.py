"""Notifications of material changes in a list's results.

Material changes are: other boats in front (all that share the first place are in front); a boat
that joins the first three by passing one of them; new or withdrawn advice to strike off, or a new
finding or doubt behind it; and a new condition that a professional must judge before buying.
Changes are compared with what was last notified, so that small steps add up. What people did
themselves (striking a boat off, removing one) has its own notification and does not count as a
change of the others. Each person is notified of the results that they may see.
"""

import uuid
from collections.abc import Collection, Iterator
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from apps.appraisal.board.strike_off import REASONS
from apps.appraisal.compute.seen import boards_seen
from apps.appraisal.stored.standing import StoredStanding
from apps.boats.list_models import CandidateList
from apps.notifications.models import NotifiedStanding
from apps.notifications.rules.drafts import Draft, from_first

SHOWN = 3  # boats in front
JUDGE_FIRST = "to_be_judged"
GRAVE = {code for code, reason in REASONS.items() if reason.grave} | {JUDGE_FIRST}


@dataclass(frozen=True)
class Stand:
    """The places and advice of boats, by id as text.

    advice: codes of reasons to strike off and of conditions before buying. place: 1 is best, level
    boats share one; empty in records from before places were stored.
    """

    order: list[str]
    advice: dict[str, list[str]]
    place: dict[str, int] = field(default_factory=dict)

    @classmethod
    def of(cls, standing: StoredStanding) -> "Stand":
        rows = standing["rows"]
        places = {row["candidate_id"]: at for row in rows if (at := row["place"]) is not None}
        return cls(
            order=[row["candidate_id"] for row in rows],
            advice={
                row["candidate_id"]: sorted(
                    {one["code"] for one in (*row["advice"], *row.get("before_buying", ()))}
                )
                for row in rows
            },
            place=places if len(places) == len(rows) else {},  # of all or of none
        )

    def without(self, boats: Collection[str]) -> "Stand":
        """The same without these boats."""
        return replace(self, order=[boat for boat in self.order if boat not in boats])

    @property
    def leaders(self) -> list[str]:
        """The boats in `order` that share the first place."""
        return [boat for boat in self.order if not self.ahead(self.order[0], boat)]

    def ahead(self, first: str, second: str) -> bool:
        if not self.place:
            return self.order.index(first) < self.order.index(second)
        return self.place[first] < self.place[second]


Stands = dict[uuid.UUID, Stand]  # by person


@dataclass(frozen=True)
class Doings:
    """People who acted since the last results. in_secret: those who only gave hidden opinions;
    their names stay hidden."""

    by: frozenset[str] = frozenset()
    in_secret: frozenset[str] = frozenset()

    def and_also(self, by: str, *, in_secret: bool) -> "Doings":
        openly = self.by - self.in_secret
        secret = self.in_secret | {by} if in_secret and by not in openly else self.in_secret
        return Doings(self.by | {by}, secret if in_secret else secret - {by})

    def notified(self, person: uuid.UUID) -> list[str]:
        return sorted(self.by - (self.in_secret - {str(person)}))


def stands_read(
    lists: Collection[CandidateList], members: Collection[uuid.UUID]
) -> dict[uuid.UUID, Stands]:
    """The standings of the lists that have results. Four queries."""
    return {
        list_id: {person: Stand.of(standing) for person, standing in standings.items() if standing}
        for list_id, standings in boards_seen(lists, members).items()
    }


def notified_read(list_ids: list[uuid.UUID]) -> dict[uuid.UUID, NotifiedStanding]:
    return NotifiedStanding.objects.in_bulk(list_ids)


def notified_of(
    list_id: uuid.UUID, before: NotifiedStanding | None, now: Stands, doings: Doings
) -> NotifiedStanding:
    """What to store: each person's last notified order, and the present advice."""
    stands = {}
    for person, stand in now.items():
        known: dict[str, Any] | None = before.stands.get(str(person)) if before else None
        kept = stand
        if known is not None and doings.by != {str(person)}:
            before_now = Stand(**known)
            if not order_change(before_now, stand):
                kept = replace(before_now, advice=stand.advice)
        stands[str(person)] = asdict(kept)
    return NotifiedStanding(list_id=list_id, stands=stands)


def moved(
    list_id: uuid.UUID, before: NotifiedStanding, now: Stands, doings: Doings, event: int
) -> Iterator[Draft]:
    """The notifications of changes; none for only one's own actions or for first results."""
    for person, stand in now.items():
        known = before.stands.get(str(person))
        if known is not None and doings.by != {str(person)}:
            by = doings.notified(person)
            yield from _moved_for(list_id, person, Stand(**known), stand, by, event)


def _moved_for(
    list_id: uuid.UUID, person: uuid.UUID, before: Stand, now: Stand, by: list[str], event: int
) -> Iterator[Draft]:
    if change := order_change(before, now):
        yield Draft(
            person_id=person,
            type="order_changed",
            thing_id=list_id,
            cause=f"event {event}",
            facts={"before": change.before, "now": change.now, "level": change.level, "by": by},
            list_id=list_id,
            fold=from_first("before", "now"),
            event=event,
        )
    for boat, codes in now.advice.items():
        earlier = before.advice.get(boat, [])
        if advice_differs(earlier, codes):
            yield Draft(
                person_id=person,
                type="advice_changed",
                thing_id=uuid.UUID(boat),
                cause=f"event {event}",
                facts={"before": earlier, "now": codes, "by": by},
                list_id=list_id,
                candidate_id=uuid.UUID(boat),
                weight=2 if GRAVE & set(codes) else 0,
                fold=from_first("before", "now"),
                event=event,
            )


@dataclass(frozen=True)
class OrderChange:
    """The boats in front before and now. level: how many share the first place now."""

    before: list[str]
    now: list[str]
    level: int


def order_change(before: Stand, now: Stand) -> OrderChange | None:
    """The change if other boats are in front, without removed boats and merely level ones."""
    was = before.without(set(before.order) - set(now.order))
    if not was.order or not now.order:
        return None
    front, front_now = was.order[:SHOWN], now.order[:SHOWN]
    stay = [boat for boat in was.leaders if boat in now.leaders]
    if not stay:
        return OrderChange(front, front_now, len(now.leaders))
    passed = any(
        now.ahead(new, old) and (new not in was.order or not was.ahead(new, old))
        for new in set(front_now) - set(front)
        for old in set(front) - set(front_now)
    )
    if not passed:
        return None
    return OrderChange(first(stay[0], front), first(stay[0], front_now), len(now.leaders))


def first(leader: str, boats: list[str]) -> list[str]:
    """The leaders, starting with one that led before, even if level boats come before it."""
    return [leader, *(boat for boat in boats if boat != leader)][:SHOWN]


def advice_differs(before: list[str], now: list[str]) -> bool:
    to_strike_off, was = set(now) - {JUDGE_FIRST}, set(before) - {JUDGE_FIRST}
    gone = bool(before) and not now
    return gone or bool(to_strike_off) != bool(was) or bool(GRAVE & set(now) - set(before))
