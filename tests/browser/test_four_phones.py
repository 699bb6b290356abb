"""Four people with phones, two yards, four boats, one day: in the evening all is there, once.

An invented Saturday. Ola and Ben are in a yard without signal from nine to five; the page of Ben's
look is killed. The clock of Bea's phone is three hours ahead, and her sign-in ends. Hal's phone is
full, and the service dies while he sends.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from server.demo.client import Client
from tests.appraisal.building import PARTICULARS
from tests.browser.conftest import client_of, make_group, make_people, phones_of
from tests.browser.line import Line
from tests.browser.phones import Phone, picture
from tests.system.processes import Process, free_port, until
from tests.system.test_embedded_jobs import Embedded, pytestmark  # noqa: F401  (where it runs)

NINE_TO_FIVE = 8  # hours
ROOM_BYTES = 5_000_000
YARDS = (
    {"name": "Mill Creek", "latitude": 55.1, "longitude": 9.5, "time_zone": "Europe/Copenhagen"},
    {"name": "Long Quay", "latitude": 51.9, "longitude": -8.4, "time_zone": "Europe/Dublin"},
)
BOATS = (("Heron", 0), ("Plover", 0), ("Curlew", 1), ("Dunlin", 1))  # and the yard
GOES = {"Ola": ("Heron", "Plover"), "Ben": ("Heron",), "Bea": ("Curlew",), "Hal": ("Dunlin",)}


@dataclass
class Day:
    service: Embedded
    process: Process
    list_id: str
    visits: dict[str, str] = field(default_factory=dict)  # by the boat's name
    titles: dict[str, str] = field(default_factory=dict)  # of checks, by code
    clients: dict[str, Client] = field(default_factory=dict)

    def api(self, name: str) -> Client:
        if name not in self.clients:
            self.clients[name] = client_of(self.service, name)
        return self.clients[name]

    def end_sign_ins(self, name: str) -> None:
        """As if their time had passed."""
        del self.clients[name]
        with closing(sqlite3.connect(self.service.folder / "hardstand.sqlite3", timeout=20)) as at:
            at.execute(
                "UPDATE accounts_token SET created_at = '2020-01-01', expires_at = '2020-02-01' "
                "WHERE person_id = (SELECT id FROM accounts_person WHERE name = ?)",
                [name],
            )
            at.commit()

    def line(self) -> Line:
        """Each phone has its own, so that each can lose it."""
        return Line("127.0.0.1", self.service.port)

    def board(self) -> dict[str, Any]:
        board: dict[str, Any] = self.api("Ola").get(f"/lists/{self.list_id}/board?wait=30")
        return board

    def looks(self, boat: str, name: str) -> list[dict[str, Any]]:
        """What this person has sent about this boat."""
        sent = self.api(name).pages(f"/viewings/{self.visits[boat]}/submissions")
        return [one for one in sent if one["author"]["name"] == name]

    def arrived(self, boat: str, name: str) -> dict[str, Any]:
        (own,) = self.looks(boat, name)
        return own

    def levels(self, look: dict[str, Any]) -> list[tuple[str, int]]:
        return sorted((self.titles[one["checkpoint"]], one["level"]) for one in look["findings"])


@pytest.fixture
def day(tmp_path, migrated) -> Iterator[Day]:
    service = Embedded(tmp_path, free_port())
    migrated(tmp_path / "hardstand.sqlite3")
    make_people(service, *GOES)
    with service.serving() as process:
        group, list_id = make_group(service, *GOES)
        day = Day(service, process, list_id)
        plan(day, group)
        yield day


def plan(day: Day, group: str) -> None:
    ola = day.api("Ola")
    yards = [ola.post(f"/groups/{group}/yards", yard)["id"] for yard in YARDS]
    ids = {name: day.api(name).get("/people/me")["id"] for name in GOES}
    nine = datetime.now(UTC) - timedelta(hours=NINE_TO_FIVE)
    for name, yard in BOATS:
        facts = {
            "place": {"yard_id": yards[yard]},
            "asking": {"amount": "20000", "currency": "EUR"},
        }
        boat = ola.post(f"/lists/{day.list_id}/candidates", {"name": name, **facts, **PARTICULARS})
        people = [ids[who] for who, boats in GOES.items() if name in boats]
        visit = {"starts_at": nine.isoformat(), "people": people, "conditions": {"where": "ashore"}}
        day.visits[name] = ola.post(f"/candidates/{boat['id']}/viewings", visit)["id"]
        for part in ola.get(f"/candidates/{boat['id']}/checklist")["places"]:
            day.titles |= {check["code"]: check["title"] for check in part["possible"]}


@pytest.fixture
def phones(chromium, day) -> Iterator[dict[str, Phone]]:
    with phones_of(chromium) as made:
        yield {name: made(day.line()) for name in GOES}


def test_in_the_evening_every_finding_is_there_once_and_the_board_is_fresh(day, phones):
    leave_home(day, phones)
    without_signal(day, phones["Ola"], phones["Ben"])
    with_a_wrong_clock_and_no_sign_in(day, phones["Bea"])
    on_a_full_phone(day, phones["Hal"])
    while_the_service_dies(day, phones["Hal"])
    with day.service.serving():
        the_service_is_back(phones["Hal"], f"/visits/{day.visits['Dunlin']}/look")
        in_the_evening(phones["Ola"], phones["Ben"])
        all_is_there_once(day, phones)
        the_board_is_fresh(day, phones["Ola"])


def leave_home(day: Day, phones: dict[str, Phone]) -> None:
    phones["Bea"].go("/")
    phones["Bea"].set_clock(3)
    phones["Hal"].has_room(ROOM_BYTES)
    for name, phone in phones.items():
        phone.sign_in(name)
        phone.keep(day.visits[GOES[name][0]])
    phones["Bea"].sees("The clock of this phone is 3 hours ahead.")
    for name in ("Ola", "Ben"):
        phones[name].set_clock(-NINE_TO_FIVE)
        phones[name].line.become("closed")


def without_signal(day: Day, ola: Phone, ben: Phone) -> None:
    ola.begin(day.visits["Heron"], "Ola")
    ola.page.fill("#note", "Weeps at the aft end.")
    ola.page.set_input_files("#photo", picture())
    for level in (3, 1, 0):
        ola.level(level)
    ola.finish()
    ola.sees("Kept; it goes by itself")

    ben.begin(day.visits["Heron"], "Ben")
    ben.level(2)
    ben.level(1)
    at = ben.heading
    ben.die()
    ben.sees(at)
    ben.level(4)
    ben.finish()
    ben.sees("Kept; it goes by itself")

    ola.begin(day.visits["Plover"], "Ola")
    ola.level(0)
    ola.level(2)
    ola.finish()
    ola.sees("Kept; it goes by itself")


def with_a_wrong_clock_and_no_sign_in(day: Day, bea: Phone) -> None:
    bea.begin(day.visits["Curlew"], "Bea")
    bea.level(1)
    day.end_sign_ins("Bea")
    bea.level(3)
    bea.finish()
    bea.sees("Sign in again as Bea")
    bea.page.get_by_role("link", name="Sign in as Bea").click()
    bea.sign_in("Bea", f"/visits/{day.visits['Curlew']}/look")
    bea.comes_to("Sent")
    bea.sees("The clock of this phone is 3 hours ahead.")


def on_a_full_phone(day: Day, hal: Phone) -> None:
    hal.begin(day.visits["Dunlin"], "Hal")
    hal.level(2)
    second = hal.heading
    hal.page.set_input_files("#photo", picture(2 * ROOM_BYTES))
    hal.sees("There is no room for more photos")
    hal.level(0)  # what is found has room
    third = hal.heading
    hal.become_full()
    hal.page.locator(".levels button").nth(1).click()
    hal.sees("The store of this phone is full: the last tap was not kept.")
    assert hal.heading == third != second
    hal.become_full(False)
    hal.level(4)


def while_the_service_dies(day: Day, hal: Phone) -> None:
    """It has the look, and dies before it can say so."""
    hal.line.become("deaf", to=b"/submission-batches")
    hal.finish()
    hal.sees("There is no connection")
    until(lambda: day.looks("Dunlin", "Hal"))
    day.process.kill()
    hal.tap("Try now")
    hal.sees("There is no connection")


def the_service_is_back(hal: Phone, at: str) -> None:
    hal.line.become("open")
    hal.go("/outbox")
    hal.sees("Nothing: all that you found is with the service.")
    hal.go(at)
    hal.comes_to("Sent")


def in_the_evening(*phones: Phone) -> None:
    for phone in phones:
        phone.page.evaluate("localStorage.removeItem('off')")
        phone.line.become("open")
        phone.go("/outbox")
        phone.sees("Nothing: all that you found is with the service.")


def all_is_there_once(day: Day, phones: dict[str, Phone]) -> None:
    now = datetime.now(UTC)
    for name, boats in GOES.items():
        looks = [day.arrived(boat, name) for boat in boats]
        arrived = [one for look in looks for one in day.levels(look)]
        assert len(arrived) == {"Ola": 5, "Ben": 3, "Bea": 2, "Hal": 3}[name]
        for look in looks:
            observed = datetime.fromisoformat(look["observed_at"])
            hours = NINE_TO_FIVE if name in ("Ola", "Ben") else 0
            assert abs(now - observed - timedelta(hours=hours)) < timedelta(minutes=10)
            assert (look["observed_stated"] is not None) is (name == "Bea")
    (noted,) = [one for one in day.arrived("Heron", "Ola")["findings"] if one["note"]]
    assert (noted["note"], len(noted["photos"])) == ("Weeps at the aft end.", 1)


def the_board_is_fresh(day: Day, ola: Phone) -> None:
    until(lambda: day.board()["fresh"])
    board = day.board()
    assert {row["name"] for row in board["candidates"]} == {name for name, _ in BOATS}
    ola.go(f"/lists/{day.list_id}")
    ola.sees("Up to date")
    for name, _ in BOATS:
        ola.sees(name)
