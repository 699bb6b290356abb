"""Another group's boat on a day sheet: only her particulars, place and checklist."""

from datetime import UTC, date, datetime, time

import pytest

from apps.boats.models import Candidate
from apps.planning.models import Trip, TripBoat, TripParty, TripStop
from apps.reports.content import texts
from apps.reports.day_sheet import sheet_of
from apps.reports.looks import PlannedVisit, looks_read
from apps.reports.outings import DayParty, Outing
from apps.viewings.models import Viewing
from tests.second_opinions.conftest import QUESTION, asking, files, scene  # noqa: F401
from tests.viewings.conftest import look

DAY = date(2026, 7, 4)
MADE_AT = datetime(2026, 5, 1, 10, tzinfo=UTC)
STARTS_AT = datetime(2026, 7, 4, 10, tzinfo=UTC)
SECRET = "Nobody outside hears of this"


@pytest.fixture
def looked_at(asking) -> Candidate:  # noqa: F811
    """The group found something, asks something, and wrote things down."""
    boat, cast = asking.scene.heron, asking.cast
    findings = [look("joint", 3, note=SECRET)]
    said = {"state": "submitted", "note": SECRET, "findings": findings, "vote": "strike"}
    visit = Viewing.objects.create(
        candidate=boat, starts_at=MADE_AT, state="made", added_by=cast.ben.person, note=SECRET
    )
    for path, body in (
        (f"/viewings/{visit.pk}/submissions", said),
        (f"/candidates/{boat.pk}/follow-ups", {"question": SECRET, "asked_of": "seller"}),
    ):
        answer = cast.ben.post(path, body)
        assert answer.status_code == 201, answer.content
    Candidate.objects.filter(pk=boat.pk).update(note=SECRET)
    asking.yard.note = SECRET
    asking.yard.save()
    return Candidate.objects.select_related("list__group", "at_yard").get(pk=boat.pk)


def said_to(who, boat) -> str:
    looks = looks_read(who.person, [PlannedVisit(boat, DAY, "UTC", STARTS_AT)])
    drive = DayParty("One car", (who.person.name,), (), looks)
    outing = Outing("Out", "Club", DAY, "UTC", "", (drive,), (), "", None)
    return "\n".join(texts(sheet_of(outing)))


def test_who_took_her_on_reads_what_is_asked_and_the_checklist(asking, looked_at):  # noqa: F811
    asking.taken()
    said = said_to(asking.abe, looked_at)
    assert "They ask:" in said
    assert QUESTION in said
    assert "In walking order" in said
    assert looked_at.name in said


def test_nothing_that_her_group_found_wrote_or_wants(asking, looked_at):  # noqa: F811
    asking.taken()
    theirs, own = said_to(asking.abe, looked_at), said_to(asking.cast.ben, looked_at)
    assert SECRET in own
    assert SECRET not in theirs
    for words in ("To settle", "To ask", "as she lay on", "must judge:", "Ben"):
        assert words not in theirs
    assert "must be judged by the professional named" in theirs


def test_what_is_asked_goes_when_the_group_ends_the_access(asking, looked_at):  # noqa: F811
    assignment = asking.taken()
    request = asking.request_of(assignment)
    ended = asking.cast.ben.change("DELETE", f"/second-opinion-requests/{request}/assignment")
    assert ended.status_code < 300, ended.content
    assert QUESTION not in said_to(asking.abe, looked_at)


@pytest.fixture
def days_out(asking, looked_at) -> str:  # noqa: F811
    """The path of Abe's own trip to her; only Abe has access to her."""
    trip = Trip.objects.create(
        club=asking.club,
        made_by=asking.abe.person,
        name="Round the bay",
        day=DAY,
        time_zone="Europe/Berlin",
        currency="EUR",
        planned_at=MADE_AT,
        planned_revision=1,
    )
    party = TripParty.objects.create(
        trip=trip,
        label="One car",
        latitude=54.0,
        longitude=10.0,
        leaves_at=time(8),
        back_by=time(18),
    )
    party.people.add(asking.abe.person, asking.amy.person)
    TripStop.objects.create(
        boat=TripBoat.objects.create(trip=trip, candidate=looked_at),
        party=party,
        position=1,
        starts_at=STARTS_AT,
        ends_at=STARTS_AT.replace(hour=11),
        metres=5_000,
        drive_minutes=8,
    )
    return f"/trips/{trip.pk}/day-sheet.html"


def test_through_the_api_only_who_took_her_on_sees_which_boat(asking, days_out):  # noqa: F811
    assignment = asking.taken()
    own = asking.abe.get(days_out).content.decode()
    assert "Heron" in own
    assert QUESTION in own
    assert SECRET not in own
    for who in (asking.amy, asking.cast.wim):  # one goes along, the other does not belong there
        told = who.get(days_out)
        assert told.status_code == (200 if who is asking.amy else 404)
        assert "Heron" not in told.content.decode()
        assert QUESTION not in told.content.decode()
    asking.cast.ben.change(
        "DELETE", f"/second-opinion-requests/{asking.request_of(assignment)}/assignment"
    )
    ended = asking.abe.get(days_out)
    assert ended.status_code == 200
    assert "a boat of others" in ended.content.decode()
    assert "Heron" not in ended.content.decode()
    assert QUESTION not in ended.content.decode()
