"""A finding becomes a result although PostgreSQL, Redis or real worker processes die."""

import os
import time
from collections.abc import Iterator

import pytest
from django.db import connection

from apps.appraisal.models import ListAppraisal
from apps.boats.list_models import CandidateList
from apps.events.models import Event
from server.demo.client import Client, over_http
from tests.appraisal.building import Yard, fill, load_catalogue
from tests.system.processes import Process, answers, free_port, running, until
from tests.system.served import Installation

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.served, pytest.mark.long]


@pytest.fixture(scope="module", autouse=True)
def _served() -> None:
    """Skip only without both services; one alone is a mistake."""
    named = [name for name in ("DATABASE_URL", "REDIS_URL") if os.environ.get(name)]
    if not named:
        pytest.skip("needs DATABASE_URL and REDIS_URL")
    assert len(named) == 2, f"only {named[0]} is set"
    assert connection.vendor == "postgresql"


@pytest.fixture(scope="module")
def installation(tmp_path_factory, worker_id, django_db_setup) -> Iterator[Installation]:
    installation = Installation.of_the_tests(tmp_path_factory.mktemp("served"), worker_id)
    yield installation
    installation.end()


@pytest.fixture
def worker(installation) -> Iterator[Process]:
    with running(installation.worker()) as process:
        until(lambda: process.says("ready."))
        yield process


@pytest.fixture
def beat(installation) -> Iterator[Process]:
    with running(installation.beat()) as process:
        yield process


@pytest.fixture(scope="module")
def web(installation) -> Iterator[str]:
    """The address of a real web server."""
    port = free_port()
    address = f"http://127.0.0.1:{port}"
    with running(installation.web(port)):
        until(lambda: answers(address))
        yield address


@pytest.fixture
def ben(web, installation, cast) -> Iterator[Client]:
    yield Client(over_http(web), cast.ben.secret or "")
    installation.gate.become("open")


@pytest.fixture
def yard(cast) -> Yard:
    load_catalogue()
    yard = Yard.of(cast.group, cast.ola.person)
    fill(yard, [cast.ben.person, cast.bea.person, cast.hal.person], 9)
    return yard


def fresh(yard: Yard) -> bool:
    wanted = CandidateList.objects.values_list("inputs_revision", flat=True).get(pk=yard.list.pk)
    done = ListAppraisal.objects.filter(pk=yard.list.pk, looks_revision__gte=wanted)
    return done.filter(leased_until=None).exists()


def rounds() -> int:
    return Event.objects.filter(kind="results.ready").count()


def submit(ben: Client, yard: Yard, level: int = 2) -> None:
    boat = yard.list.candidates.order_by("pk").first()
    made = ben.post(
        f"/candidates/{boat.pk}/viewings", {"starts_at": "2026-01-10T10:00:00Z", "state": "made"}
    )
    finding = {"checkpoint": "engine-oil", "kind": "looked", "level": level}
    ben.post(f"/viewings/{made['id']}/submissions", {"state": "submitted", "findings": [finding]})


def test_it_works(ben, yard, worker):
    submit(ben, yard)
    board = ben.get(f"/lists/{yard.list.pk}/board?wait=30")
    assert board["fresh"] is True
    assert len(board["candidates"]) == 9
    until(lambda: fresh(yard))


def test_a_worker_killed_in_mid_job_loses_nothing(ben, yard, installation, beat):
    with running(installation.worker()) as first:
        until(lambda: first.says("ready."))
        submit(ben, yard)
        # It is at work once it holds the lease; there it dies.
        until(lambda: ListAppraisal.objects.exclude(leased_until=None).exists(), every=0.005)
        first.kill()
    assert not fresh(yard)
    with running(installation.worker()):
        until(lambda: fresh(yard))
    assert ListAppraisal.objects.get(pk=yard.list.pk).last_error == ""


@pytest.mark.parametrize("state", ["closed", "hung"])
def test_a_broker_that_is_away_neither_fails_nor_hangs_the_post(
    ben, yard, installation, worker, state
):
    submit(ben, yard)
    until(lambda: fresh(yard))
    installation.gate.become(state)
    started = time.monotonic()
    submit(ben, yard, level=3)
    submit(ben, yard, level=4)
    assert time.monotonic() - started < 15
    assert not fresh(yard)
    installation.gate.become("open")
    with running(installation.beat()):
        until(lambda: fresh(yard), seconds=90)


def test_a_burst_becomes_few_rounds(ben, yard, worker, beat):
    until(lambda: fresh(yard))
    before = rounds()
    for n in range(20):
        submit(ben, yard, level=n % 5)
    until(lambda: fresh(yard))
    wanted = CandidateList.objects.get(pk=yard.list.pk).inputs_revision
    assert ListAppraisal.objects.get(pk=yard.list.pk).revision == wanted
    assert 1 <= rounds() - before <= 12


def test_it_stops_in_order(installation):
    worker = installation.worker()
    with running(worker):
        until(lambda: worker.says("ready."))
        assert worker.end() == 0
