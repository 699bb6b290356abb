"""The embedded setup: a finding becomes a result in a single process."""

import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from server.demo.client import Client, over_http
from tests.appraisal.building import PARTICULARS
from tests.system.processes import Process, answers, free_port, manage, running, until

pytestmark = [
    pytest.mark.skipif(
        bool(os.environ.get("REDIS_URL")), reason="what is tested is the way to run without"
    ),
    pytest.mark.long,
]
PASSWORD = "four-on-a-saturday"
OLA = "ola@example.org"
CHECKED = ("engine-oil", "deck-cracks", "keel-joint-line", "blister-depth", "ports-and-leaks")


@dataclass
class Embedded:
    """One data folder, and the service that is started on it again and again."""

    folder: Path
    port: int

    @property
    def environment(self) -> dict[str, str]:
        return {
            "HARDSTAND_DATA_DIR": str(self.folder),
            "HARDSTAND_PASSWORD": PASSWORD,
            "APPRAISAL_LEASE_SECONDS": "3",
            "SWEEP_SECONDS": "1",
        }

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def manage(self, *commands: Sequence[str]) -> None:
        manage({**os.environ, **self.environment}, *commands)

    @contextmanager
    def serving(self) -> Iterator[Process]:
        command = ("manage.py", "serve", f"--bind=127.0.0.1:{self.port}")
        process = Process(*command, log=self.folder / "log", environment=self.environment)
        with running(process):
            until(lambda: answers(self.address), seconds=120)
            yield process

    def asked(self, question: str) -> int:
        """One number from the database, read beside the running service."""
        at = f"file:{self.folder / 'hardstand.sqlite3'}?mode=ro"
        with closing(sqlite3.connect(at, uri=True, timeout=20)) as database:
            return int(database.execute(question).fetchone()[0])

    @property
    def behind(self) -> bool:
        return bool(
            self.asked(
                "SELECT count(*) FROM boats_candidatelist l LEFT JOIN appraisal_listappraisal a "
                "ON a.list_id = l.id WHERE coalesce(a.looks_revision, 0) < l.inputs_revision"
            )
        )

    @property
    def rounds(self) -> int:
        return self.asked("SELECT count(*) FROM events_event WHERE kind = 'results.ready'")


@dataclass
class Buyer:
    """The organiser of a list of a few boats, over HTTP."""

    client: Client
    list_id: str
    boats: list[str]

    def submit(self, boat: str, level: int) -> None:
        visit = {"starts_at": "2026-01-10T10:00:00Z", "state": "made"}
        made = self.client.post(f"/candidates/{boat}/viewings", visit)
        findings = [{"checkpoint": c, "kind": "looked", "level": level} for c in CHECKED]
        self.client.post(
            f"/viewings/{made['id']}/submissions", {"state": "submitted", "findings": findings}
        )

    def board(self, wait: int) -> dict:
        return self.client.get(f"/lists/{self.list_id}/board?wait={wait}")


@pytest.fixture(scope="module")
def service(tmp_path_factory, migrated) -> Embedded:
    service = Embedded(tmp_path_factory.mktemp("embedded"), free_port())
    migrated(service.folder / "hardstand.sqlite3")
    service.manage(["add_person", OLA, "Ola"], ["add_group", "Tern", OLA])
    return service


def buyer(service: Embedded) -> Buyer:
    client = Client(over_http(service.address)).signed_in(OLA, PASSWORD)
    (group,) = client.pages("/groups")
    lists = list(client.pages(f"/groups/{group['id']}/lists"))
    if not lists:
        budget = {"amount": "90000.00", "currency": "USD"}
        brief = {"currency": "USD", "budget": budget}
        lists = [client.post(f"/groups/{group['id']}/lists", {"name": "Spring", "brief": brief})]
    at = f"/lists/{lists[0]['id']}/candidates"
    boats = list(client.pages(at))
    for n in range(len(boats), 6):
        asking = {"amount": f"{20 + n}000.00", "currency": "USD"}
        boats.append(client.post(at, {"name": f"Boat {n}", "asking": asking, **PARTICULARS}))
    return Buyer(client, lists[0]["id"], [boat["id"] for boat in boats])


def test_one_process_does_it_all_and_stops_in_order(service):
    with service.serving() as process:
        ola = buyer(service)
        ola.submit(ola.boats[0], level=2)
        board = ola.board(wait=30)
        assert board["fresh"] is True
        assert len(board["candidates"]) == 6
        assert process.end() == 0
    assert "Traceback" not in process.log.read_text()


def test_a_burst_becomes_few_rounds(service):
    with service.serving():
        ola = buyer(service)
        until(lambda: not service.behind)
        before = service.rounds
        for n in range(20):
            ola.submit(ola.boats[n % 6], level=n % 5)
        until(lambda: not service.behind)
        assert 1 <= service.rounds - before <= 12


def test_killed_in_mid_job_it_loses_nothing(service):
    with service.serving() as process:
        ola = buyer(service)
        until(lambda: not service.behind)
        ola.submit(ola.boats[0], level=4)
        at_work = "SELECT count(*) FROM appraisal_listappraisal WHERE leased_until IS NOT NULL"
        until(lambda: service.asked(at_work), every=0.005)
        process.kill()
    assert service.behind
    with service.serving():
        until(lambda: not service.behind)
        assert buyer(service).board(wait=0)["fresh"] is True
