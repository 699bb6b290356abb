"""The day sheet of a trip: its boats in the order of the plan, a sheet for each."""

import io
from dataclasses import replace
from datetime import UTC, datetime, time

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from apps.boats.models import Candidate
from apps.boats.yards.models import Yard as Place
from apps.planning.models import Trip, TripBoat, TripParty, TripStop
from apps.reports import outings
from apps.reports.content import texts
from apps.reports.day_sheet import trip_sheet
from apps.reports.page import page_of
from apps.reports.paper import paper_of
from tests.reports.reading import Page, paper_said, places_of_letters, squeezed

FORMS = ("html", "pdf")


def at(hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 7, 4, hour, minute, tzinfo=UTC)


@pytest.fixture
def trip(spring, cast) -> Trip:
    """Two cars; Ben and Hal see Fulmar and then Petrel, Bea looks at Skua. Tern has no place."""
    place = Place.objects.create(
        group=cast.group,
        name="Quillcove Yard",
        latitude=44.21,
        longitude=-68.93,
        time_zone="America/New_York",
    )
    Candidate.objects.filter(pk__in=[spring.fulmar.pk, spring.petrel.pk]).update(at_yard=place)
    made = Trip.objects.create(
        group=cast.group,
        made_by=cast.ben.person,
        name="Up the coast",
        note="Meet at the bakery",
        day="2026-07-04",
        time_zone="America/New_York",
        currency="USD",
        planned_at=at(7),
        revision=2,
        planned_revision=2,
    )
    for label, people, boats in (
        ("Ben's car", (cast.ben, cast.hal), (spring.fulmar, spring.petrel)),
        ("Bea's car", (cast.bea,), (spring.skua,)),
    ):
        party = TripParty.objects.create(
            trip=made,
            label=label,
            start="At home",
            latitude=44.0,
            longitude=-69.0,
            leaves_at=time(8),
            back_by=time(18),
            sets_off_at=at(12, 15),
            back_at=at(19),
            metres=61_000,
        )
        party.people.add(*(one.person for one in people))
        for position, boat in enumerate(boats, start=1):
            TripStop.objects.create(
                boat=TripBoat.objects.create(trip=made, candidate=boat),
                party=party,
                position=position,
                starts_at=at(12 + 2 * position),
                ends_at=at(13 + 2 * position),
                metres=0 if position == 2 else 30_400,
                drive_minutes=0 if position == 2 else 41,
            )
    TripBoat.objects.create(trip=made, candidate=spring.tern, left_out="no_place")
    return made


def sheet(trip, who, form: str = "html"):
    return who.get(f"/trips/{trip.pk}/day-sheet.{form}")


def said_to(trip, who) -> str:
    answer = sheet(trip, who)
    assert answer.status_code == 200, answer.content
    return " ".join(Page(answer.content.decode()).said.split())


def test_it_works(trip, cast):
    said = said_to(trip, cast.ivy)
    for words in (
        "Day sheet: Up the coast",
        "Saturday, 4 July 2026",
        "Meet at the bakery",
        "Ben and Hal",
        "From At home Sets off 08:15 EDT Back 15:00 EDT On the road about 61 km",
        "10:00 EDT to 11:00 EDT Fulmar Quillcove Yard 30 km, about 41 minutes",
        "12:00 EDT to 13:00 EDT Petrel Quillcove Yard no drive",
        "Tern: her place is not known.",
        "1. Fulmar, Ben's car",
        "2. Petrel, Ben's car",
        "1. Skua, Bea's car",
    ):
        assert squeezed(words) in squeezed(said), words


def test_both_forms_say_all_the_words_and_each_boat_begins_a_sheet(trip, cast):
    report = trip_sheet(cast.ben.person, trip.pk)
    on_page, pdf = squeezed(Page(page_of(report, "a4")).said), paper_of(report, "a4")
    on_paper = paper_said(pdf, report.foot)
    for text in texts(report):
        assert squeezed(text) in on_page, text
        assert squeezed(text) in on_paper, text
    begins = [page.extract_text().split("\n")[0] for page in PdfReader(io.BytesIO(pdf)).pages]
    assert {"1. Fulmar, Ben's car", "2. Petrel, Ben's car", "1. Skua, Bea's car"} <= set(begins)
    for _, left, right, bottom, top in places_of_letters(pdf):
        assert 0.07 < left <= right < 0.93
        assert 0.02 < bottom <= top < 0.97


@pytest.mark.parametrize("form", FORMS)
def test_who_may(trip, cast, form):
    for who in (cast.wim, cast.sten):
        assert sheet(trip, who, form).status_code == 404
    assert sheet(trip, cast.nobody, form).status_code == 401
    assert sheet(trip, cast.ivy, form).status_code == 200


def test_the_same_again_costs_nothing(trip, cast):
    path = f"/trips/{trip.pk}/day-sheet.pdf"
    held = cast.ben.get(path)["ETag"]
    assert cast.ben.get(path, If_None_Match=held).status_code == 304


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"revision": 3}, "Mind: Something has changed since this was planned."),
        ({"state": "called_off"}, "Mind: This trip is called off."),
    ],
)
def test_a_plan_that_no_longer_holds_says_so(trip, cast, change, told):
    Trip.objects.filter(pk=trip.pk).update(**change)
    assert told in said_to(trip, cast.ben)


def test_a_trip_without_a_plan_has_a_sheet_too(trip, cast):
    TripStop.objects.all().delete()
    said = said_to(trip, cast.ben)
    assert "There is no plan yet." in said
    assert "No boat is on this way." in said
    assert sheet(trip, cast.ben, "pdf").status_code == 200


def test_a_boat_that_the_reader_may_not_see_is_a_time_and_nothing_else(trip, cast, monkeypatch):
    """On a club's trip each person sees the boats that are open to them."""
    whole = outings.trip_seen

    def without_skua(person, trip_id):
        seen = whole(person, trip_id)
        days = tuple(
            replace(
                day,
                stops=tuple(
                    replace(stop, boat=None) if stop.boat.candidate.name == "Skua" else stop
                    for stop in day.stops
                ),
            )
            for day in seen.days
        )
        return replace(seen, days=days, hidden=1)

    monkeypatch.setattr(outings, "trip_seen", without_skua)
    said = said_to(trip, cast.ben)
    assert "Skua" not in said
    assert "10:00 EDT to 11:00 EDTa boat of others" in said


def test_more_boats_take_no_more_queries(trip, cast, spring):
    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            trip_sheet(cast.ben.person, trip.pk)
        return len(captured)

    many = queries()
    TripBoat.objects.filter(candidate__in=[spring.petrel, spring.skua]).delete()
    assert queries() == many
