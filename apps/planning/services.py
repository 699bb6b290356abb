"""Changes to trips.

People who plan for a group change its trips; a club member's trip is changed by its owner.
"""

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.boats.vocabulary import SETTLED
from apps.common.errors import FieldFault, NotAllowed, require_no_faults
from apps.common.services import record_create
from apps.groups.rules import Action, club_membership_of, require
from apps.planning.event_records import record_event
from apps.planning.leaving import parties_delete
from apps.planning.messages import plan_later
from apps.planning.models import Trip, TripBoat, TripParty, TripStop
from apps.planning.parties import PartyInput, party_faults, party_store, with_somebody
from apps.planning.selectors import trip_locked
from apps.second_opinions.lookable import boats_open_to

MOST_BOATS = 200


@dataclass(frozen=True)
class BoatInput:
    """A boat to look at, and if given, the value and the minutes of a look."""

    candidate: uuid.UUID
    value: tuple[Decimal, str] | None = None
    minutes: int | None = None


@transaction.atomic
def trip_add(
    *,
    by: Person,
    facts: Mapping[str, Any],
    parties: Sequence[PartyInput],
    boats: Sequence[BoatInput] | None = None,
    group_id: uuid.UUID | None = None,
    club_id: uuid.UUID | None = None,
    id: uuid.UUID | None = None,
) -> Trip:
    """A trip of the group, or of `by` as a member of the club. Without `boats`, all possible ones.

    If no party has people, `by` is in the first one.
    """
    trip = Trip(group_id=group_id, club_id=club_id, made_by=by, **facts)
    require_planner(by, trip)
    parties = with_somebody(parties, by)
    found, faults = _boats_found(trip, by, boats)
    faults += _day_faults(trip.day) + party_faults(trip, parties, {})
    require_no_faults(faults)
    record_create(trip, id)
    for given in parties:
        party_store(TripParty(trip=trip), given)
    TripBoat.objects.bulk_create(_new_boats(trip, found, boats or ()))
    record_event("trip.added", trip, by)
    return trip


@transaction.atomic
def trip_change(
    *,
    trip: Trip,
    by: Person,
    expected_version: int,
    facts: Mapping[str, Any],
    parties: Sequence[PartyInput] | None = None,
    boats: Sequence[BoatInput] | None = None,
) -> Trip:
    """Change the given fields. If parties or boats are given, they replace all present ones.

    Agreed and made visits keep their day, party and boat. A plan is updated.
    """
    require_planner(by, trip)
    trip = trip_locked(trip)
    faults = _agreed_faults(trip, facts, parties, boats) + _currency_faults(trip, facts, boats)
    if facts.get("day", trip.day) != trip.day:
        faults += _day_faults(facts["day"])
    before = trip.state, trip.currency
    for name, value in facts.items():
        setattr(trip, name, value)
    own = {party.pk: party for party in trip.parties.all()}
    if parties is not None:
        faults += party_faults(trip, parties, own)
    found: list[Candidate] = []
    if boats is not None:
        found, wrong = _boats_found(trip, by, boats)
        faults += wrong
    require_no_faults(faults)
    dropped = parties is not None and _parties_replace(trip, parties, own)
    if boats is not None:
        _boats_replace(trip, found, boats)
    if trip.currency != before[1]:
        _values_reset(trip)
    if dropped or (trip.state != before[0] and trip.planned_at is not None):
        trip.sequence += 1  # calendars must see the change
    trip.revision += 1
    trip.save_changes(expected_version=expected_version, fields=[*facts, *OF_THE_PLAN])
    _plan_later(trip)
    record_event("trip.changed", trip, by, fields=sorted(facts))
    return trip


# The effect of a change of a trip on its plan.
OF_THE_PLAN = ("revision", "values_anew", "sequence", "outcome", "value", "bound")


@transaction.atomic
def trip_ask_for_plan(*, trip: Trip, by: Person) -> Trip:
    """Request a plan by the present values of looks. From now on it is kept up to date."""
    require_planner(by, trip)
    locked = Trip.objects.select_for_update(no_key=True).get(pk=trip.pk)
    locked.asked = locked.values_anew = True
    locked.revision += 1
    locked.save_changes(fields=["asked", "values_anew", "revision"])
    _plan_later(locked)
    record_event("trip.plan_asked", locked, by)
    return locked


def require_planner(by: Person, trip: Trip) -> None:
    """Raises `NotVisible` or `NotAllowed` for people who may not change the trip."""
    if trip.group_id is not None:
        require(by, Action.PLAN, trip.group_id)
        return
    assert trip.club_id is not None  # a constraint requires exactly one of the two
    membership = club_membership_of(by, trip.club_id)
    if trip.made_by_id != by.pk:
        raise NotAllowed("Only the person who made a trip can change it.", [membership.role])


def _plan_later(trip: Trip) -> None:
    if trip.asked and trip.state == Trip.State.PLANNED:
        plan_later([trip.pk])


# --- Parties -------------------------------------------------------------------------------------


def _parties_replace(
    trip: Trip, parties: Sequence[PartyInput], own: Mapping[uuid.UUID, TripParty]
) -> bool:
    """Returns whether stops of the plan were dropped with parties that are left out."""
    kept = [given.id for given in parties if given.id is not None]
    dropped = parties_delete(TripParty.objects.filter(trip=trip).exclude(pk__in=kept))
    for given in parties:
        party = own[given.id] if given.id is not None else TripParty(trip=trip)
        party_store(party, given)
    return dropped


# --- Boats ---------------------------------------------------------------------------------------


def plannable(trip: Trip, by: Person) -> QuerySet[Candidate]:
    """The possible boats of the trip: the group's, or all that a club's member may look at."""
    if trip.group_id is not None:
        return Candidate.objects.filter(list__group_id=trip.group_id)
    return boats_open_to(by)


def _boats_found(
    trip: Trip, by: Person, boats: Sequence[BoatInput] | None
) -> tuple[list[Candidate], list[FieldFault]]:
    """The named candidates, or all that somebody still looks at; and their faults."""
    if boats is None:
        all_of_them = plannable(trip, by).exclude(stage__in=SETTLED).order_by("pk")
        return list(all_of_them[:MOST_BOATS]), []
    named = plannable(trip, by).in_bulk([given.candidate for given in boats])
    # Boats already on the trip stay, even if their rights have changed.
    before = {boat.candidate_id: boat.candidate for boat in _boats_of(trip)}
    found, faults = {}, []
    for n, given in enumerate(boats):
        candidate = named.get(given.candidate) or before.get(given.candidate)
        at = f"/boats/{n}"
        if candidate is None:
            detail = "There is no such boat that you may look at."
            faults.append(FieldFault(f"{at}/candidate", "unknown_boat", detail))
        elif candidate.pk in found:
            faults.append(FieldFault(f"{at}/candidate", "named_twice", "This boat is named twice."))
        else:
            found[candidate.pk] = candidate
        if given.value is not None and given.value[1] != trip.currency:
            detail = f"Valuations on this trip are in {trip.currency}."
            faults.append(FieldFault(f"{at}/value/currency", "other_currency", detail))
    return list(found.values()), faults


def _boats_of(trip: Trip) -> Iterable[TripBoat]:
    return () if trip._state.adding else trip.boats.all()


def _new_boats(
    trip: Trip, candidates: Iterable[Candidate], boats: Sequence[BoatInput]
) -> list[TripBoat]:
    given = {one.candidate: one for one in boats}
    return [
        _take(TripBoat(trip=trip, candidate=candidate), given.get(candidate.pk))
        for candidate in candidates
    ]


def _take(boat: TripBoat, given: BoatInput | None) -> TripBoat:
    """Set the given values; values computed from the previous ones are computed again."""
    value = given.value[0] if given and given.value else None
    minutes = given.minutes if given else None
    if (boat.stated_value, boat.stated_minutes) != (value, minutes):
        boat.value = None
    boat.stated_value, boat.stated_minutes, boat.wanted = value, minutes, True
    return boat


def _boats_replace(trip: Trip, found: Sequence[Candidate], boats: Sequence[BoatInput]) -> None:
    """A boat that was in a plan stays, not wanted, so that people hear that she was taken off."""
    given = {one.candidate: one for one in boats}
    stored = {boat.candidate_id: boat for boat in trip.boats.all()}
    for boat in stored.values():
        if boat.candidate_id in given:
            _take(boat, given[boat.candidate_id])
        else:
            boat.wanted = False
    gone = [boat.pk for boat in stored.values() if not boat.wanted and not hasattr(boat, "stop")]
    TripBoat.objects.filter(pk__in=gone).delete()
    kept = [boat for boat in stored.values() if boat.pk not in gone]
    TripBoat.objects.bulk_update(kept, ["stated_value", "stated_minutes", "wanted", "value"])
    new = [candidate for candidate in found if candidate.pk not in stored]
    TripBoat.objects.bulk_create(_new_boats(trip, new, boats))


# --- Money ---------------------------------------------------------------------------------------


def _currency_faults(
    trip: Trip, facts: Mapping[str, Any], boats: Sequence[BoatInput] | None
) -> list[FieldFault]:
    """A value given in one currency is a different number in another."""
    given = any(boat.stated_value is not None and boat.wanted for boat in trip.boats.all())
    if facts.get("currency", trip.currency) == trip.currency or boats is not None or not given:
        return []
    detail = (
        f"The boats' values are in {trip.currency}: send the boats with values in the new currency."
    )
    return [FieldFault("/currency", "other_currency", detail)]


def _values_reset(trip: Trip) -> None:
    """Clear the plan's figures in the old currency; a new plan has them in the new one."""
    boats = TripBoat.objects.filter(trip=trip)
    boats.filter(wanted=False).update(stated_value=None)
    boats.update(value=None)
    trip.values_anew, trip.value, trip.bound = True, None, None
    if trip.outcome == Trip.Outcome.PLANNED:
        trip.outcome = Trip.Outcome.NONE


# --- Parts that can no longer change -------------------------------------------------------------


def _day_faults(day: date) -> list[FieldFault]:
    # In time zones ahead of UTC it may be tomorrow already, in those behind still yesterday.
    if day >= timezone.now().date() - timedelta(days=1):
        return []
    return [FieldFault("/day", "in_the_past", f"{day} is over.")]


def _agreed_faults(
    trip: Trip,
    facts: Mapping[str, Any],
    parties: Sequence[PartyInput] | None,
    boats: Sequence[BoatInput] | None,
) -> list[FieldFault]:
    agreed = [stop for stop in _stops(trip) if stop.agreed or stop.made]
    faults = []
    if agreed and facts.get("day", trip.day) != trip.day:
        faults.append(_agreed("/day", "Visits were agreed for this day; call them off first."))
    agreed_with = {stop.party_id for stop in agreed}
    if parties is not None and agreed_with - {given.id for given in parties}:
        faults.append(_agreed("/parties", "Visits were agreed for a party that is left out."))
    agreed_at = {stop.boat.candidate_id for stop in agreed}
    if boats is not None and agreed_at - {given.candidate for given in boats}:
        faults.append(_agreed("/boats", "A visit was agreed for a boat that is left out."))
    return faults


def _agreed(pointer: str, detail: str) -> FieldFault:
    return FieldFault(pointer, "agreed_already", detail)


def _stops(trip: Trip) -> list[TripStop]:
    return [boat.stop for boat in trip.boats.all() if hasattr(boat, "stop")]
