"""A club of 40 members, 12 groups and 90 boats in 9 yards, end to end through the API.

The club is invented; its groups' boats lie in the same yards, and nobody sees another group's.
"""

import io
import json
import os
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from icalendar import Calendar
from pypdf import PdfReader

from apps.appraisal.compute import computing
from apps.appraisal.jobs import list_recompute, lists_due
from apps.notifications.jobs import group_notify
from apps.outcomes.services import club_outcomes_refresh
from apps.planning.jobs import trip_plan
from server.demo.client import Client, RequestRefused
from tests.system.club import (
    BOATS,
    CONDITIONS,
    GROUPS,
    MEMBERS,
    PASSWORD,
    SECRETARY,
    ClubBoat,
    ClubStory,
    saturday,
)
from tests.system.transport import in_process
from tests.system.walk import undone

pytestmark = [pytest.mark.django_db, pytest.mark.long]


def work() -> None:
    """Do a worker's tasks, because tests have no worker."""
    for list_id in lists_due().values_list("pk", flat=True):
        list_recompute(list_id=list_id)


@pytest.fixture(scope="module")
def club(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock(), undone(), pytest.MonkeyPatch.context() as patched:
        patched.setattr(computing, "DRAWS", 1024)  # how good figures are is tested elsewhere
        patched.setitem(os.environ, "HARDSTAND_PASSWORD", PASSWORD)
        call_command("load_catalogue", verbosity=0)
        call_command("add_person", SECRETARY["email"], SECRETARY["name"])
        story = ClubStory(in_process).play()
        work()
        yield story


def test_it_is_the_club_that_was_meant(club):
    members = list(club.secretary.pages(f"/clubs/{club.club}/members"))
    assert len(members) == MEMBERS
    assert len(club.groups) == GROUPS
    assert len(club.boats) == BOATS
    assert len({boat.yard for boat in club.boats}) == 9
    assert club.findings > 5_000


def test_every_group_gets_its_own_boats_in_order(club):
    seen = []
    for group in club.groups:
        board = club.people[group.people[0]].get(f"/lists/{group.list_id}/board")
        assert board["fresh"]
        rows = [*board["candidates"], *board["struck_off"]]
        assert {row["candidate_id"] for row in rows} == {boat.id for boat in group.boats}
        seen += [row["candidate_id"] for row in rows]
    assert len(set(seen)) == BOATS


# --- the club ------------------------------------------------------------------------------------


@pytest.fixture
def asked(club) -> dict[str, ClubBoat]:
    """Six groups' requests for a second opinion, by id."""
    return {
        club.organiser_of(boat).post(
            f"/candidates/{boat.id}/second-opinion-requests",
            {"question": "Is the deck sound round the mast?", "checkpoints": ["deck-tapping"]},
        )["id"]: boat
        for boat in club.boats[:6]
    }


def notified_of(club: ClubStory, boat: ClubBoat) -> set[str]:
    """Ids of the boat's group that outsiders never see."""
    group = club.group_of(boat)
    others = {other.id for other in group.boats if other is not boat}
    return {group.id, group.list_id, *others, *(club.ids[name] for name in group.people[1:])}


def test_the_queue_shows_what_is_needed_to_choose_and_no_more(club, asked):
    adviser = club.people[club.advisers[0]]
    queue = adviser.get_file(f"/clubs/{club.club}/second-opinion-queue?order=value").decode()
    rows = json.loads(queue)["results"]
    assert {row["id"] for row in rows} == set(asked)
    valuations = [float(row["value_compared"]["amount"]) for row in rows]
    assert valuations == sorted(valuations, reverse=True)
    assert valuations[0] > 0
    for boat in asked.values():
        assert not {word for word in notified_of(club, boat) | {boat.id} if word in queue}
    with pytest.raises(RequestRefused) as refused:
        club.people["Member 20"].get(f"/clubs/{club.club}/second-opinion-queue")
    assert refused.value.status == 403


def test_an_adviser_sees_the_boat_and_only_her_looks_and_hands_back(club, asked):
    adviser, (request, boat) = club.people[club.advisers[0]], next(iter(asked.items()))
    assignment = adviser.post(f"/second-opinion-queue/{request}/assignments", {})["id"]
    seen = [
        adviser.get_file(f"/assignments/{assignment}{part}")
        for part in ("", "/candidate", "/checklist")
    ]
    assert json.loads(seen[1])["name"] == boat.body["name"]
    adviser.put(
        f"/assignments/{assignment}/visit",
        {"starts_at": datetime.now(UTC).isoformat(), "conditions": CONDITIONS},
    )
    findings = club.seen(boat, lean=0.0, spread=0.3)
    sent = adviser.post(
        f"/assignments/{assignment}/submissions", {"state": "submitted", "findings": findings}
    )
    adviser.post(
        f"/assignments/{assignment}/answers", {"answer": "Soft on the port side: have it tapped."}
    )
    for said in seen:
        assert not {word for word in notified_of(club, boat) if word in said.decode()}
    for path in ("/candidate", "/checklist", "/submissions"):
        with pytest.raises(RequestRefused) as refused:
            adviser.get(f"/assignments/{assignment}{path}")
        assert refused.value.status == 404

    group = club.organiser_of(boat)
    told = group.get(f"/second-opinion-requests/{request}")
    assert (told["state"], told["submissions"]) == ("answered", [sent["id"]])
    assert group.get(f"/submissions/{sent['id']}")["author"]["id"] == club.ids[club.advisers[0]]
    steps = [one["kind"] for one in group.pages(f"/second-opinion-requests/{request}/steps")]
    assert steps[:2] == ["asked", "taken"]
    assert steps[-1] == "answered"
    work()
    assert group.get(f"/lists/{club.group_of(boat).list_id}/board")["fresh"]


def test_all_that_an_adviser_may_do_tells_nothing_of_groups(club, asked):
    """Every path of every group's things, asked for by an adviser who has a boat of it on loan."""
    adviser, (request, boat) = club.people[club.advisers[1]], next(iter(asked.items()))
    adviser.post(f"/second-opinion-queue/{request}/assignments", {})
    group = club.group_of(boat)
    for path in (
        f"/groups/{group.id}",
        f"/groups/{group.id}/members",
        f"/lists/{group.list_id}",
        f"/lists/{group.list_id}/board",
        f"/lists/{group.list_id}/next-looks",
        f"/lists/{group.list_id}/decision-brief.html",
        f"/candidates/{boat.id}",
        f"/candidates/{boat.id}/rollup",
        f"/candidates/{boat.id}/submissions",
        f"/candidates/{boat.id}/second-opinion-requests",
        f"/candidates/{group.boats[1].id}",
    ):
        with pytest.raises(RequestRefused) as refused:
            adviser.get(path)
        assert refused.value.status == 404, path


# --- Days at a yard, and trips -------------------------------------------------------------------


# More than any other look may come to: both boats are in the best plan.
VALUE = {"amount": "9000.00", "currency": "USD"}


@pytest.fixture
def trip(club) -> tuple[dict[str, Any], ClubBoat, ClubBoat]:
    """A trip to an own boat and to another group's boat at the same yard."""
    own, other = neighbours(club)
    goes = club.organiser_of(own)
    viewing = goes.post(
        f"/candidates/{own.id}/viewings", {"starts_at": f"{saturday()}T15:00:00Z", "people": []}
    )
    goes.put(f"/viewings/{viewing['id']}/yard-day", {"room": 1})
    asks = club.organiser_of(other)
    days = asks.get_file(f"/clubs/{club.club}/yard-days").decode()
    (day,) = json.loads(days)["results"]
    assert not {word for word in (own.id, own.group, own.body["name"]) if word in days}
    wish = {"question": "Does she look as in the pictures?", "candidate": other.id}
    request = asks.post(f"/yard-days/{day['id']}/requests", wish)["id"]
    goes.post(f"/second-opinion-queue/{request}/assignments", {})
    made = goes.post(
        f"/clubs/{club.club}/trips",
        {
            "name": "Saturday",
            "day": saturday().isoformat(),
            "time_zone": "America/New_York",
            "currency": "USD",
            "boats": [
                *({"candidate": boat.id, "value": VALUE} for boat in (own, other)),
                *({"candidate": boat.id} for boat in club.group_of(own).boats[1:]),
            ],
            "parties": [
                {
                    "label": "One car",
                    "start": {"latitude": 43.66, "longitude": -70.26},
                    "leaves_at": "07:30",
                    "back_by": "19:00",
                    "most_km": 400,
                }
            ],
        },
    )
    goes.post(f"/trips/{made['id']}/plans", {})
    trip_plan(trip_id=made["id"])
    return goes.get(f"/trips/{made['id']}"), own, other


def neighbours(club: ClubStory) -> tuple[ClubBoat, ClubBoat]:
    """Two boats of different groups without a person in common, at one yard."""
    first = club.boats[0]
    people = set(club.group_of(first).people)
    return first, next(
        boat
        for boat in club.boats
        if boat.yard == first.yard and not people & set(club.group_of(boat).people)
    )


def test_a_trip_collects_boats_of_two_groups_at_one_yard(club, trip):
    planned, own, other = trip
    plan, goes = planned["plan"], club.organiser_of(own)
    stops = [stop for route in plan["routes"] for stop in route["stops"]]
    assert plan["outcome"] == "planned"
    assert plan["gap"] <= 0.05
    looked_at = [stop["candidate"] for stop in stops]
    considered = {boat["candidate"] for boat in planned["boats"]}
    assert considered == {other.id, *(boat.id for boat in club.group_of(own).boats)}
    left_out = {boat["candidate"]: boat["sentence"] for boat in plan["left_out"]}
    assert considered == left_out.keys() | set(looked_at)
    assert all(left_out.values())
    there = sorted((looked_at.index(own.id), looked_at.index(other.id)))
    assert stops[there[1]]["km"] == 0  # she lies where one is already
    at = [datetime.fromisoformat(stop["starts_at"]) for stop in stops]
    assert at == sorted(at)

    shown = json.loads(goes.get_file(f"/trips/{planned['id']}/plan.geojson"))
    assert shown["type"] == "FeatureCollection"
    calendar = Calendar.from_ical(goes.get_file(f"/trips/{planned['id']}/plan.ics"))
    assert len(calendar.walk("VEVENT")) >= len(stops)
    sheet = goes.get_file(f"/trips/{planned['id']}/day-sheet.pdf")
    assert sheet.startswith(b"%PDF-")
    assert not {word for word in notified_of(club, other) if word.encode() in sheet}
    with pytest.raises(RequestRefused):
        club.organiser_of(other).get(f"/trips/{planned['id']}")


# --- What is remembered, printed and told --------------------------------------------------------


def test_outcomes_show_nothing_from_fewer_than_three_groups(club):
    club_outcomes_refresh(club_id=club.club)
    told = club.people["Member 30"].get_file(f"/clubs/{club.club}/outcomes").decode()
    figures = list(figures_in(json.loads(told)))
    assert figures
    assert all(figure["groups"] >= 3 and figure["boats"] >= 3 for figure in figures)
    assert not {boat.id for boat in club.boats if boat.id in told}
    page = club.people["Member 30"].get_file(f"/clubs/{club.club}/outcomes.html").decode()
    assert "<figcaption" in page


def figures_in(said: Any) -> Iterator[dict[str, Any]]:
    """Every number of an answer, at any depth."""
    if isinstance(said, dict):
        if "figure" in said:
            yield said
        for inner in said.values():
            yield from figures_in(inner)
    elif isinstance(said, list):
        for inner in said:
            yield from figures_in(inner)


def test_every_group_gets_its_brief(club):
    for group in club.groups[:3]:
        organiser = club.people[group.people[0]]
        paper = organiser.get_file(f"/lists/{group.list_id}/decision-brief.pdf")
        said = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(paper)).pages)
        for boat in group.boats:
            assert boat.body["name"] in said


def test_everybody_is_told_what_waits_once(club):
    for group in club.groups:
        group_notify(group_id=group.id)
    told = {name: inbox(person) for name, person in club.people.items()}
    assert sum(map(len, told.values())) > GROUPS
    for group in club.groups:
        group_notify(group_id=group.id)
    assert {name: inbox(person) for name, person in club.people.items()} == told
    of_groups = {notification for notifications in told.values() for notification in notifications}
    assert len(of_groups) == sum(map(len, told.values()))  # nobody has anybody else's


def inbox(person: Client) -> set[str]:
    return {notification["id"] for notification in person.pages("/notifications")}


# --- What it takes -------------------------------------------------------------------------------


def test_a_read_takes_as_many_queries_in_a_club_of_any_size(club, asked):
    """In a whole club no more than each app's own tests allow for a few rows."""
    group = club.groups[0]
    organiser, adviser = club.people[group.people[0]], club.people[club.advisers[0]]
    for reader, path, most in (
        (organiser, f"/lists/{group.list_id}/board", 14),
        (organiser, f"/lists/{group.list_id}/candidates?limit=100", 14),
        (organiser, f"/lists/{group.list_id}/next-looks", 14),
        (organiser, "/notifications", 14),
        (organiser, f"/clubs/{club.club}/yard-days", 14),
        (organiser, f"/clubs/{club.club}/outcomes", 14),
        (organiser, f"/clubs/{club.club}/members?limit=100", 14),
        (adviser, f"/clubs/{club.club}/second-opinion-queue", 14),
        (adviser, f"/clubs/{club.club}/yards", 14),
    ):
        with CaptureQueriesContext(connection) as taken:
            reader.get(path)
        assert len(taken) <= most, (path, len(taken))
