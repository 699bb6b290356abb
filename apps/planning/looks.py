"""The value of a look at each boat of a trip, and how long it takes.

The value is how far the look is expected to move her expected cost. Its value for a group's choice
would depend on the buyers' opinions, which not all readers of the plan may know. The look is a
second visit in her last conditions, if its value is known; else an unhampered visit; else the best
single check. Values of several looks are simply added, though each assumes that it is the only
one.
"""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from apps.appraisal.models import ListAppraisal
from apps.appraisal.stored import COST_LOOKS, value_read
from apps.appraisal.stored.looks import CheckOfCosts, CostLooks, VisitOfCosts
from apps.boats.exchange_rates import rate
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.catalogue.selectors import catalogue_snapshot
from apps.planning.models import Basis, Trip, TripBoat
from apps.viewings.checklists import checklist_from
from apps.viewings.conditions import Conditions

LONGEST_LOOK = 480  # minutes
CENT = Decimal("0.01")


@dataclass(frozen=True)
class Checks:
    """How many checks can be made on the spot, and their minutes."""

    checks: int
    minutes: int


@dataclass(frozen=True)
class TripLookValue:
    """`value` in the trip's currency; None for the reason in `why`."""

    value: Decimal | None
    basis: str
    checks: int
    minutes: int
    why: str = ""


def looks_of(trip: Trip, boats: Iterable[TripBoat]) -> dict[uuid.UUID, TripLookValue]:
    """A look at each boat, by the boat's id. One query, and the catalogue's."""
    boats = list(boats)
    lists = {boat.candidate.list_id for boat in boats}
    stored = dict(ListAppraisal.objects.filter(pk__in=lists).values_list("pk", "cost_looks"))
    looks = {pk: value_read(cost_looks, COST_LOOKS).value for pk, cost_looks in stored.items()}
    return {boat.pk: _look(trip, boat, looks.get(boat.candidate.list_id)) for boat in boats}


def look_kept(boat: TripBoat) -> TripLookValue | None:
    """The look as stored for an earlier plan; None if its value was not known then."""
    if boat.value is None or boat.checks is None or boat.minutes is None:
        return None
    return TripLookValue(boat.value, boat.basis, boat.checks, boat.minutes)


def _look(trip: Trip, boat: TripBoat, cost_looks: CostLooks | None) -> TripLookValue:
    value, basis, seen = _stored(boat.candidate, cost_looks)
    why = "" if value is not None else "no_value_known"
    if value is not None:
        value = in_trip_currency(trip, boat.candidate.list, value)
        why = "" if value is not None else "no_exchange_rate"
    if boat.stated_value is not None:
        value, basis, why = boat.stated_value, Basis.GIVEN, ""
    found = seen or possible_checks(boat.candidate)
    minutes = boat.stated_minutes or minutes_for(trip, found)
    return TripLookValue(value, basis, found.checks, minutes, why)


def _stored(
    candidate: Candidate, cost_looks: CostLooks | None
) -> tuple[Decimal | None, str, Checks | None]:
    """Value in the list's currency, its source, and the possible checks, if known."""
    if cost_looks is None:
        return None, "", None
    visits = {
        row["kind"]: row for row in cost_looks["visits"] if row["candidate_id"] == str(candidate.pk)
    }
    for kind, basis in (
        ("as_before", Basis.AS_BEFORE),
        ("nothing_in_the_way", Basis.NOTHING_IN_THE_WAY),
    ):
        if kind in visits:
            return _amount(visits[kind]), basis, _checks(visits[kind])
    checks = [
        _amount(row) for row in cost_looks["checks"] if row["candidate_id"] == str(candidate.pk)
    ]
    return (max(checks), Basis.BEST_CHECK, None) if checks else (None, "", None)


def _checks(row: VisitOfCosts) -> Checks | None:
    return None if row["minutes"] is None else Checks(row["checks"], row["minutes"])


def _amount(row: VisitOfCosts | CheckOfCosts) -> Decimal:
    return Decimal(row["moves"]["amount"])


def in_trip_currency(trip: Trip, candidate_list: CandidateList, amount: Decimal) -> Decimal | None:
    """Converted at the rate of the list's brief; None if it has none for the trip's currency."""
    found = rate(candidate_list, trip.currency)
    return None if found is None else (amount / found).quantize(CENT)


def possible_checks(candidate: Candidate) -> Checks:
    """The possible checks on her, ashore or afloat, whichever takes longer."""
    snapshot = catalogue_snapshot(candidate.list.group_id)
    lying = (checklist_from(snapshot, candidate, {"where": lies}) for lies in Conditions.Where)
    longest = max(lying, key=lambda found: found.minutes)
    return Checks(len(longest.possible), longest.minutes)


def minutes_for(trip: Trip, found: Checks) -> int:
    """Minutes of the checks, plus the minutes that every look takes."""
    return min(trip.minutes_per_boat + found.minutes, LONGEST_LOOK)
