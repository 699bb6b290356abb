"""Whether a list's results changed so much that its members are told, and what.

Materially: another boat in front, others among the first three, advice to strike off that comes or
goes, a new finding or doubt behind it, or something new that must be judged before anybody buys.
What people did themselves (a boat struck off, one taken out) is told as such and moves nobody else.
"""

import uuid
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from apps.appraisal.models import ListAppraisal
from apps.notices.drafts import Draft, from_first
from apps.notices.models import ToldStanding
from apps.notices.state import Member

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
    def of(cls, standing: Mapping) -> "Stand":
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


def stands_read(list_ids: list[uuid.UUID]) -> dict[uuid.UUID, Stand]:
    """Of the lists that have results. One query."""
    rows = ListAppraisal.objects.filter(pk__in=list_ids, revision__gt=0)
    return {pk: Stand.of(standing) for pk, standing in rows.values_list("pk", "standing")}


def told_read(list_ids: list[uuid.UUID]) -> dict[uuid.UUID, ToldStanding]:
    return ToldStanding.objects.in_bulk(list_ids)


def moved(
    list_id: uuid.UUID,
    before: ToldStanding,
    now: Stand,
    by: set[str],
    members: Mapping[uuid.UUID, Member],
    event: int,
) -> Iterator[Draft]:
    """What to tell whom. by: whose doings came in between; nobody is told of only their own."""
    told = [member for member in members if by != {str(member)}]
    people = sorted(by)
    if change := order_change(before.order, now.order):
        for member in told:
            yield Draft(
                person_id=member,
                matter="order_changed",
                thing_id=list_id,
                cause=f"event {event}",
                facts={"before": change[0], "now": change[1], "by": people},
                list_id=list_id,
                fold=from_first("before", "now"),
                event=event,
            )
    for boat, codes in now.advice.items():
        earlier = before.advice.get(boat, [])
        if not advice_differs(earlier, codes):
            continue
        for member in told:
            yield Draft(
                person_id=member,
                matter="advice_changed",
                thing_id=uuid.UUID(boat),
                cause=f"event {event}",
                facts={"before": earlier, "now": codes, "by": people},
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
