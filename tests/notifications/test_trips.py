"""Notifications of trips and of changed plans, to the people on them."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.db import transaction
from django.utils import timezone

from apps.events.services import event_record
from apps.planning.models import Trip, TripParty
from tests.notifications.conftest import inbox, told, types

DAY = date(2031, 6, 14)


@pytest.fixture
def trip(cast, notify) -> Trip:
    """Ben and Bea go, with a plan; Ola made it."""
    trip = Trip.objects.create(
        group=cast.group,
        made_by=cast.ola.person,
        name="Round\nthe estuary",
        day=DAY,
        time_zone="Europe/Berlin",
        currency="USD",
        outcome="planned",
        value=900,
        bound=900,
    )
    party = TripParty.objects.create(
        trip=trip, label="A car", latitude=54, longitude=10, leaves_at=time(8), back_by=time(17)
    )
    party.people.set([cast.ben.person, cast.bea.person])
    happen(trip, "trip.added", by=cast.ola)
    notify()
    return trip


def happen(trip, kind, by=None, only_for=None, **facts):
    with transaction.atomic():
        event_record(
            group_id=trip.group_id,
            kind=kind,
            thing="trip",
            thing_id=trip.pk,
            by_id=by and by.person.pk,
            only_for=only_for and only_for.person.pk,
            facts={"day": str(trip.day), **facts},
        )


def at(moment, monkeypatch, notify):
    with monkeypatch.context() as changed:
        changed.setattr(timezone, "now", lambda: moment)
        notify()


def test_it_works(trip, cast, notify, monkeypatch):
    """The day before begins in Berlin at 22:00 UTC, in summer."""
    begins = datetime(2031, 6, 12, 22, tzinfo=UTC)
    at(begins - timedelta(minutes=1), monkeypatch, notify)
    assert types(cast.ben) == []
    at(begins, monkeypatch, notify)
    for who in (cast.ben, cast.bea):
        found = told(who, "trip_ahead")
        assert found["sentence"].startswith("Round the estuary: your trip is on 2031-06-14.")
        assert "ladders" in found["sentence"]
    assert types(cast.ola) == types(cast.hal) == []  # they stay at home
    at(begins + timedelta(days=2), monkeypatch, notify)
    assert types(cast.ben) == []


def test_a_trip_called_off_waits_for_nobody(trip, cast, notify, monkeypatch):
    at(datetime(2031, 6, 13, 12, tzinfo=UTC), monkeypatch, notify)
    assert types(cast.ben) == ["trip_ahead"]
    Trip.objects.update(state="called_off")
    happen(trip, "trip.changed", by=cast.ola, fields=["state"])
    at(datetime(2031, 6, 13, 13, tzinfo=UTC), monkeypatch, notify)
    assert types(cast.ben) == []


def test_another_plan_reaches_who_travels_and_who_made_it(trip, cast, notify):
    happen(trip, "trip.planned", sequence=2, came_in=["a"], fell_out=["b", "c"])
    notify()
    for who in (cast.ben, cast.bea, cast.ola):
        found = told(who, "trip_planned")
        assert (found["thing"], found["thing_id"]) == ("trip", str(trip.pk))
        assert found["sentence"] == (
            "Your trip of 2031-06-14 has another plan: 1 boat added, 2 boats dropped."
        )
    assert inbox(cast.hal) == []


def test_only_other_hours_are_no_news(trip, cast, notify):
    happen(trip, "trip.planned", sequence=2, came_in=[], fell_out=[])
    notify()
    assert inbox(cast.ben) == []


def test_what_no_plan_can_keep(trip, cast, notify):
    happen(trip, "trip.cannot_be_kept", candidates=["a"])
    notify()
    assert "(1 appointment)" in told(cast.ben, "trip_impossible")["sentence"]


def test_what_is_for_one_person_alone_is_told_to_nobody_else(trip, cast, notify):
    """A trip of a club's member: only whoever made it hears of it."""
    happen(trip, "trip.planned", only_for=cast.ola, sequence=2, came_in=["a"], fell_out=[])
    notify()
    assert types(cast.ola) == ["trip_planned"]
    assert types(cast.ben) == []
