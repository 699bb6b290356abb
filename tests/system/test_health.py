from datetime import timedelta

import pytest
from django.db import connection
from django.db.utils import OperationalError
from django.utils import timezone

from apps.appraisal.jobs import oldest_change_not_in_results
from apps.boats.list_models import CandidateList
from apps.jobs import life
from server import health
from tests.appraisal.building import Yard, load_catalogue


@pytest.fixture(autouse=True)
def _looked_for_anew(monkeypatch):
    monkeypatch.setattr(health, "work", health.Work(health.look))


@pytest.fixture
def silent(monkeypatch):
    """Make parts silent for so many seconds."""
    seconds: dict[str, float] = {}
    monkeypatch.setattr(life, "silent_for", lambda part: seconds.get(part, 0.0))
    return seconds


def reasons(client) -> list[str]:
    answer = client.get("/health/ready")
    assert answer.status_code == 200
    said = answer.json()
    assert said["status"] == ("degraded" if said["reasons"] else "ready")
    return said["reasons"]


def test_it_lives_without_a_database(client):
    assert client.get("/health/live").json() == {"status": "alive"}


def test_it_is_ready(client, db):
    assert reasons(client) == []


def test_it_is_not_ready_without_its_database(client, db):
    def refuse(*_):
        raise OperationalError

    with connection.execute_wrapper(refuse):
        answer = client.get("/health/ready")
    assert (answer.status_code, answer.json()) == (503, {"status": "not ready"})


@pytest.mark.parametrize("queue", life.QUEUES)
def test_it_says_that_no_worker_takes_messages(client, db, silent, queue):
    silent[queue] = 61.0
    assert reasons(client) == [f"no_worker_{queue}"]


def test_it_says_that_there_is_no_scheduler(client, db, silent):
    silent["beat"] = 61.0
    assert reasons(client) == ["no_scheduler"]


def test_it_says_that_messages_are_not_taken_by_a_worker_that_lives(client, db, monkeypatch):
    monkeypatch.setattr(life, "untaken_for", lambda queue: 361.0)
    monkeypatch.setattr("server.queues.length", lambda queue: int(queue == "planning"))
    assert reasons(client) == ["messages_late_planning"]


def test_it_says_that_redis_is_away(client, db, monkeypatch):
    def away(part):
        raise ConnectionError

    monkeypatch.setattr(life, "silent_for", away)
    assert reasons(client) == ["no_broker"]


def test_it_says_that_results_are_late(client, cast):
    load_catalogue()
    yard = Yard.of(cast.group, cast.ola.person)
    lists = CandidateList.objects.filter(pk=yard.list.pk)
    assert oldest_change_not_in_results() == lists.get().inputs_changed_at
    assert reasons(client) == []
    lists.update(inputs_changed_at=timezone.now() - timedelta(minutes=7))
    health.work = health.Work(health.look)
    assert reasons(client) == ["results_late"]
    yard.recompute()
    health.work = health.Work(health.look)
    assert (oldest_change_not_in_results(), reasons(client)) == (None, [])


def test_it_looks_again_only_after_a_while(client, db, silent):
    assert reasons(client) == []
    silent["beat"] = 61.0
    assert reasons(client) == []


def test_each_process_is_checked_by_its_own_sign(db, monkeypatch):
    monkeypatch.setattr(health, "gethostname", lambda: "one")
    life.sign_of_life("sending", "another")
    assert not health.check("sending")
    life.sign_of_life("sending", "one")
    assert health.check("sending")
    with pytest.raises(SystemExit):
        health.check("nonsense")
