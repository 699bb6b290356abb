"""Whether a list's results changed so much that its members are told, and what.

Materially: another boat in front, others among the first three, advice to strike off that comes or
goes, a new finding or doubt behind it, or something new that must be judged before anybody buys.
What people did themselves (a boat struck off, one taken out) is told as such and moves nobody else.
Each is told of the results that they may see.
"""

import uuid
from collections.abc import Collection, Iterator
from dataclasses import asdict, dataclass

from apps.appraisal.figures import Json
from apps.appraisal.seen import boards_seen
from apps.boats.models import CandidateList
from apps.notices.drafts import Draft, from_first
from apps.notices.models import ToldStanding

SHOWN = 3  # so many boats in front
JUDGE_FIRST = "to_be_judged"
GRAVE = {"open_doubt", "walk_away_finding", JUDGE_FIRST}


@dataclass(frozen=True)
class Stand:
    """Where boats stand, by the id of each as text.

    advice: codes of reasons to strike off, and of what must be judged before anybody buys.
    """

    order: list[str]
    advice: dict[str, list[str]]

    @classmethod
    def of(cls, standing: Json) -> "Stand":
        rows = standing.get("rows", ())
        return cls(
            order=[row["candidate_id"] for row in rows],
            advice={
                row["candidate_id"]: sorted(
                    {one["code"] for one in (*row["advice"], *row.get("before_buying", ()))}
                )
                for row in rows
            },
        )


Stands = dict[uuid.UUID, Stand]  # by person


@dataclass(frozen=True)
class Doings:
    """Who did something since the last results. in_secret: of those who did nothing else, who said
    what they think of a boat while that is hidden: their names are nobody's to know."""

    by: frozenset[str] = frozenset()
    in_secret: frozenset[str] = frozenset()

    def and_also(self, by: str, *, in_secret: bool) -> "Doings":
        openly = self.by - self.in_secret
        secret = self.in_secret | {by} if in_secret and by not in openly else self.in_secret
        return Doings(self.by | {by}, secret if in_secret else secret - {by})

    def told_to(self, person: uuid.UUID) -> list[str]:
        return sorted(self.by - (self.in_secret - {str(person)}))


def stands_read(
    lists: Collection[CandidateList], members: Collection[uuid.UUID]
) -> dict[uuid.UUID, Stands]:
    """Of the lists that have results. Four queries."""
    return {
        list_id: {person: Stand.of(standing) for person, standing in standings.items() if standing}
        for list_id, standings in boards_seen(lists, members).items()
    }


def told_read(list_ids: list[uuid.UUID]) -> dict[uuid.UUID, ToldStanding]:
    return ToldStanding.objects.in_bulk(list_ids)


def told_of(list_id: uuid.UUID, stands: Stands) -> ToldStanding:
    """What is remembered once they are told."""
    return ToldStanding(
        list_id=list_id,
        stands={str(person): asdict(stand) for person, stand in stands.items()},
    )


def moved(
    list_id: uuid.UUID, before: ToldStanding, now: Stands, doings: Doings, event: int
) -> Iterator[Draft]:
    """What to tell whom. Nobody is told of only their own doings, nor of their first results."""
    for person, stand in now.items():
        told = before.stands.get(str(person))
        if told is not None and doings.by != {str(person)}:
            by = doings.told_to(person)
            yield from _moved_for(list_id, person, Stand(**told), stand, by, event)


def _moved_for(
    list_id: uuid.UUID, person: uuid.UUID, before: Stand, now: Stand, by: list[str], event: int
) -> Iterator[Draft]:
    if change := order_change(before.order, now.order):
        yield Draft(
            person_id=person,
            matter="order_changed",
            thing_id=list_id,
            cause=f"event {event}",
            facts={"before": change[0], "now": change[1], "by": by},
            list_id=list_id,
            fold=from_first("before", "now"),
            event=event,
        )
    for boat, codes in now.advice.items():
        earlier = before.advice.get(boat, [])
        if advice_differs(earlier, codes):
            yield Draft(
                person_id=person,
                matter="advice_changed",
                thing_id=uuid.UUID(boat),
                cause=f"event {event}",
                facts={"before": earlier, "now": codes, "by": by},
                list_id=list_id,
                candidate_id=uuid.UUID(boat),
                weight=2 if GRAVE & set(codes) else 0,
                fold=from_first("before", "now"),
                event=event,
            )


def order_change(before: list[str], now: list[str]) -> tuple[list[str], list[str]] | None:
    """The boats in front then and now, if they are others; what people took out does not count."""
    there = set(now)
    front, front_now = [boat for boat in before if boat in there][:SHOWN], now[:SHOWN]
    if not front or (front[0] == front_now[0] and set(front) == set(front_now)):
        return None
    return front, front_now


def advice_differs(before: list[str], now: list[str]) -> bool:
    to_strike_off, was = set(now) - {JUDGE_FIRST}, set(before) - {JUDGE_FIRST}
    gone = bool(before) and not now
    return gone or bool(to_strike_off) != bool(was) or bool(GRAVE & set(now) - set(before))
