"""People write while `kill -9` ends the web server and the workers, again and again.

Whatever was acknowledged is there, once; whatever was cut off is there once when it was repeated;
and all work gets done. On SQLite the one process of the embedded setup is killed, with PostgreSQL
and Redis the processes of a served one. KILLS says how often: KILLS=50 takes some minutes.
"""

import os
import random
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from server.demo.client import Client, over_http
from tests.system.killing import (
    PATIENCE,
    Place,
    Writer,
    all_work_is_done,
    nothing_is_lost_or_doubled,
    repeated,
)
from tests.system.processes import Process, answers, free_port, manage, until
from tests.system.served import Installation

SERVED = bool(os.environ.get("REDIS_URL"))
pytestmark = [
    pytest.mark.long,
    *([pytest.mark.django_db(transaction=True), pytest.mark.served] if SERVED else []),
]
KILLS = int(os.environ.get("KILLS", "5" if SERVED else "3"))  # the one process starts slowly
WRITERS = 4
OLA, PASSWORD = "ola@example.org", "four-on-a-saturday"


@dataclass
class Service:
    """The processes of one setup, by their names. `starts`: how each is started."""

    address: str
    environment: dict[str, str]
    starts: dict[str, Callable[[], Process]]
    runs: dict[str, Process] = field(default_factory=dict)

    def start(self, name: str) -> None:
        self.runs[name] = self.starts[name]()
        if name == "web":
            until(lambda: answers(self.address), seconds=PATIENCE)

    def kill(self, name: str) -> None:
        self.runs[name].kill()

    @contextmanager
    def running(self) -> Iterator[None]:
        try:
            for name in self.starts:
                self.start(name)
            yield
        finally:
            for process in self.runs.values():
                if process.running.poll() is None:
                    process.kill()


def embedded(folder: Path, port: int) -> Service:
    environment = {
        "HARDSTAND_DATA_DIR": str(folder),
        "APPRAISAL_LEASE_SECONDS": "3",
        "SWEEP_SECONDS": "1",
    }
    command = ("manage.py", "serve", f"--bind=127.0.0.1:{port}")
    return Service(
        f"http://127.0.0.1:{port}",
        environment,
        {"web": lambda: Process(*command, log=folder / "log", environment=environment)},
    )


def served(installation: Installation, port: int) -> Service:
    installation.environment["HARDSTAND_DATA_DIR"] = str(installation.folder)
    starts = {
        "web": lambda: installation.web(port),
        "worker": installation.worker,
        "beat": installation.beat,
    }
    return Service(f"http://127.0.0.1:{port}", installation.environment, starts)


@pytest.fixture
def service(tmp_path, request, worker_id) -> Iterator[Service]:
    port = free_port()
    if SERVED:
        request.getfixturevalue("transactional_db")
        installation = Installation.of_the_tests(tmp_path, worker_id)
        made, prepare = served(installation, port), [["load_catalogue"]]
    else:
        request.getfixturevalue("migrated")(tmp_path / "hardstand.sqlite3")
        made, prepare = embedded(tmp_path, port), []
    made.environment |= {"RATE_PERSON": "0/60", "RATE_CLIENT": "0/60", "RATE_ADDRESS": "0/60"}
    people = [["add_person", OLA, "Ola"], ["add_group", "Tern", OLA]]
    environment = {**os.environ, **made.environment, "HARDSTAND_PASSWORD": PASSWORD}
    manage(environment, *prepare, *people)
    with made.running():
        yield made
    if SERVED:
        installation.end()


def test_nothing_acknowledged_is_lost_and_nothing_doubled(service):
    over, gave_up = threading.Event(), threading.Event()
    client = Client(repeated(over_http(service.address), gave_up))
    ola = client.signed_in(OLA, PASSWORD)
    place = Place.made(ola)
    writers = [Writer(ola, place, f"writer {n}") for n in range(WRITERS)]
    writing = [threading.Thread(target=w.write_until, args=(over,), daemon=True) for w in writers]
    for thread in writing:
        thread.start()
    chance = random.Random(KILLS)
    try:
        for n in range(KILLS):
            # In turn, so that a few kills meet each of them, at moments that nobody chose.
            name = [*service.starts][n % len(service.starts)]
            time.sleep(chance.uniform(0.1, 1.5))
            service.kill(name)
            service.start(name)
        over.set()
        for thread in writing:
            thread.join(60)
    finally:
        over.set()
        gave_up.set()
    for writer in writers:
        if writer.fault:
            raise writer.fault
        assert writer.told["entry"], "it wrote between the kills"
    assert sum(len(writer.told["entry"]) for writer in writers) > WRITERS
    print(f"{sum(len(told) for w in writers for told in w.told.values())} writes, {KILLS} kills")
    gave_up.clear()
    all_work_is_done(ola, place)
    nothing_is_lost_or_doubled(ola, place, writers)
