"""Many people post about several lists at once, through HTTP on PostgreSQL and Redis.

Run by name: python -m tests.bench.bench_posters [BOATS], with DATABASE_URL naming a PostgreSQL
server, REDIS_URL and SECRET_KEY. 20 members post a submission each about one of 12 lists of BOATS
boats (8), all at the same time, and wait until the board is fresh; a web server and a worker with a
process for each core serve them. Wanted: 95 of 100 wait at most 3 times the baseline.

Baseline, timed in the same run: one recompute of such a list with nobody else there, and one round
trip (reading its fresh board), times the lists that are due for each core.
"""

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from tests.bench.apart import database_apart  # isort: skip

import numpy as np
from django.conf import settings
from django.db.models import F
from django.utils import timezone

from apps.appraisal.jobs import list_recompute
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.groups.models import Group, Membership
from apps.viewings.models import Viewing
from server.demo.client import Client, over_http
from tests.appraisal.building import Yard, fill, load_catalogue
from tests.conftest import speakers
from tests.system.processes import Process, answers, free_port, running, until

LISTS, POSTERS, TIMES, WANTED = 12, 20, 5, 3.0
CORES = os.cpu_count() or 1
UNLIMITED = {f"RATE_{name}": "0/60" for name in ("PERSON", "CLIENT", "ADDRESS")}
BODY = {
    "state": "submitted",
    "findings": [{"checkpoint": "anodes", "kind": "looked", "level": 2}],
}


@dataclass(frozen=True)
class Due:
    """A list on which somebody posts."""

    list_id: str
    viewing_id: str
    secret: str

    def post_and_wait(self, address: str) -> None:
        client = Client(over_http(address), self.secret)
        client.post(f"/viewings/{self.viewing_id}/submissions", BODY)
        for _ in range(10):
            if client.get(f"/lists/{self.list_id}/board?wait=30")["fresh"]:
                return
        raise RuntimeError("the board was not fresh after 5 minutes")

    def board(self, address: str) -> None:
        Client(over_http(address), self.secret).get(f"/lists/{self.list_id}/board")


def seconds(work: Callable[[], object]) -> float:
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def made_list(n: int, boats: int) -> Due:
    people = speakers(*(f"{name} of {n}" for name in ("Ola", "Ben", "Bea")))
    group = Group.objects.create(name=f"Group {n}")
    Membership.objects.bulk_create(
        Membership(group=group, person=one.person, role="organiser", buys=True) for one in people
    )
    yard = Yard.of(group, people[0].person)
    fill(yard, [one.person for one in people], boats)
    boat = Candidate.objects.filter(list=yard.list).earliest("pk")
    viewing = Viewing.objects.create(
        candidate=boat, starts_at=timezone.now(), added_by=yard.organiser, state="made"
    )
    return Due(str(yard.list.pk), str(viewing.pk), people[0].secret or "")


def recompute(due: Due) -> None:
    CandidateList.objects.filter(pk=due.list_id).update(inputs_revision=F("inputs_revision") + 1)
    list_recompute(list_id=due.list_id)


@contextmanager
def served() -> Iterator[str]:
    """The address of a web server with a worker on the bench's own database."""
    port = free_port()
    address = urlsplit(os.environ["DATABASE_URL"])
    with tempfile.TemporaryDirectory() as name:
        environment = {
            **UNLIMITED,
            "DATABASE_URL": address._replace(
                path=f"/{settings.DATABASES['default']['NAME']}"
            ).geturl(),
            "HARDSTAND_DATA_DIR": name,
        }
        web = Process(
            *("-m", "gunicorn", "server.wsgi", "--config=python:server.web", "--workers=1"),
            f"--bind=127.0.0.1:{port}",
            log=Path(name) / "web.log",
            environment=environment,
        )
        worker = Process(
            *("-m", "celery", "-A", "server", "worker", f"--concurrency={CORES}"),
            log=Path(name) / "worker.log",
            environment=environment,
        )
        with running(web), running(worker):
            until(lambda: answers(f"http://127.0.0.1:{port}"), seconds=120)
            yield f"http://127.0.0.1:{port}"


def main() -> int:
    boats = int(sys.argv[1]) if len(sys.argv) > 1 else 8
    with database_apart():
        load_catalogue()
        lists = [made_list(n, boats) for n in range(LISTS)]
        for due in lists:
            recompute(due)
        alone = statistics.median(seconds(lambda: recompute(lists[0])) for _ in range(TIMES))
        with served() as address:
            for due in lists[:CORES]:
                due.post_and_wait(address)  # what is loaded on first use is loaded
            trip = statistics.median(seconds(lambda: lists[0].board(address)) for _ in range(TIMES))
            with ThreadPoolExecutor(POSTERS) as posters:
                waits = list(
                    posters.map(
                        lambda n: seconds(lambda: lists[n % LISTS].post_and_wait(address)),
                        range(POSTERS),
                    )
                )
    baseline = (alone + trip) * LISTS / CORES
    late = float(np.percentile(waits, 95))
    print(
        f"{POSTERS} posters, {LISTS} lists of {boats} boats, {CORES} cores: post to fresh board "
        f"median {statistics.median(waits):.2f} s, p95 {late:.2f} s"
    )
    print(
        f"baseline: recompute {alone:.2f} s, round trip {trip:.3f} s, {LISTS / CORES:.0f} lists a "
        f"core: {baseline:.2f} s; ratio {late / baseline:.2f}, wanted at most {WANTED:.0f}"
    )
    return int(late > WANTED * baseline)


if __name__ == "__main__":
    sys.exit(main())
