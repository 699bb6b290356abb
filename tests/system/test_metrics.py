"""Figures for Prometheus. The form of the text is checked by prometheus-client's own parser."""

import os
import subprocess
import sys
from datetime import timedelta
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest
from django.http import Http404, HttpResponse
from django.test import RequestFactory
from django.urls import resolve
from django.utils import timezone
from prometheus_client.parser import text_string_to_metric_families

from apps.appraisal.models import ListAppraisal
from apps.boats.list_models import CandidateList
from apps.jobs import life
from server import metrics, urls, work_figures
from tests.appraisal.building import Yard, load_catalogue
from tests.system.processes import ROOT, SERVED, Process, free_port, running, until

TOKEN = "a-long-random-text-for-the-scraper"
assert urls.urlpatterns, "read before a test sets a token"
ASKED = "/api/v1/lists/0190a6b5-0000-7000-8000-000000000000/board"


@pytest.fixture
def token(settings) -> str:
    settings.METRICS_TOKEN = TOKEN
    return TOKEN


def figures(text: str) -> "Figures":
    return Figures(
        (frozenset((sample.name, *sample.labels.values())), sample.value)
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    )


class Figures(dict[frozenset[str], float]):
    """The samples by name and the values of their labels."""

    def of(self, *name: str) -> float:
        return self.get(frozenset(name), float("nan"))


def scraped(token: str) -> "Figures":
    request = RequestFactory().get("/metrics", headers={"Authorization": f"Bearer {token}"})
    return figures(metrics.metrics(request).content.decode())


def test_it_works(db, token):
    found = scraped(token)
    assert found.of("hardstand_lists_behind") == 0
    assert found.of("hardstand_jobs", "appraisal.listappraisal", "failing") == 0
    assert found.of("hardstand_messages", "results") >= 0
    assert found.of("hardstand_silent_seconds", "beat") == 0
    assert found.of("hardstand_mails", "failed") == 0
    assert found.of("hardstand_webhook_messages", "failed") == 0
    assert found.of("hardstand_broker_up") == 1


@pytest.mark.parametrize("given", ["", "Bearer", "Bearer wrong", TOKEN, f"bearer{TOKEN}"])
def test_nobody_else_learns_of_it(token, given):
    request = RequestFactory().get("/metrics", headers={"Authorization": given})
    with pytest.raises(Http404):
        metrics.metrics(request)


@pytest.mark.parametrize("given", ["", "Bearer ", "Bearer"])
def test_without_a_token_nobody_gets_it(settings, given):
    settings.METRICS_TOKEN = ""
    with pytest.raises(Http404):
        metrics.metrics(RequestFactory().get("/metrics", headers={"Authorization": given}))


def answered(path: str, status: int = 200, **options: object) -> None:
    request = RequestFactory().get(path)
    request.resolver_match = resolve(path.partition("?")[0]) if path.startswith("/api") else None
    metrics.Measured(lambda _: HttpResponse(status=status))(request)


def test_requests_are_counted_by_the_pattern_of_their_address(db, token):
    of_boards = "api/v1/lists/<id:list_id>/board"
    before = scraped(token)
    answered(ASKED)
    answered(ASKED, status=404)
    answered(f"{ASKED}?wait=10")
    answered("/nothing/here/hst_secret")
    after = scraped(token)

    def more(*name: str) -> float:
        return after.of(*name) - before.get(frozenset(name), 0.0)

    assert more("hardstand_requests_total", of_boards, "GET", "200") == 2
    assert more("hardstand_requests_total", of_boards, "GET", "404") == 1
    assert more("hardstand_requests_total", "none", "GET", "200") == 1
    assert more("hardstand_request_seconds_count", of_boards) == 2, "no waits"
    assert not any("secret" in part for name in after for part in name)


def test_lists_that_wait_and_jobs_that_fail(cast, token):
    load_catalogue()
    yard = Yard.of(cast.group, cast.ola.person)
    hour = timezone.now() - timedelta(hours=1)
    CandidateList.objects.filter(pk=yard.list.pk).update(inputs_changed_at=hour)
    found = scraped(token)
    assert found.of("hardstand_lists_behind") == found.of("hardstand_lists_due") == 1
    assert 3590 < found.of("hardstand_oldest_list_seconds") < 3700
    ListAppraisal.objects.create(list=yard.list, failing_since=hour)
    assert scraped(token).of("hardstand_jobs", "appraisal.listappraisal", "failing") == 1


def test_tasks_are_counted_by_how_they_end(db, token):
    name = "apps.appraisal.tasks.sweep"
    before = scraped(token).of("hardstand_tasks_done", name, "FAILURE")
    life.task_ended(name, "FAILURE")
    assert scraped(token).of("hardstand_tasks_done", name, "FAILURE") == before + 1


def test_without_redis_the_rest_is_there(db, token, monkeypatch):
    def away(queue):
        raise ConnectionError

    monkeypatch.setattr(work_figures, "length", away)
    found = scraped(token)
    assert found.of("hardstand_broker_up") == 0
    assert found.of("hardstand_lists_behind") == 0


def test_the_number_of_queries_is_constant(cast, token, django_assert_max_num_queries):
    with django_assert_max_num_queries(20):
        scraped(token)


@pytest.mark.skipif(bool(os.environ.get("REDIS_URL")), reason="one way to run is enough")
def test_the_processes_of_the_server_add_up(tmp_path, migrated):
    port = free_port()
    migrated(tmp_path / "hardstand.sqlite3")
    command = ("-m", "gunicorn", "server.wsgi", "--config=python:server.web")
    environment = {"HARDSTAND_DATA_DIR": str(tmp_path), "METRICS_TOKEN": TOKEN}
    web = Process(
        *command, f"--bind=127.0.0.1:{port}", log=tmp_path / "log", environment=environment
    )

    def ask(path: str) -> str:
        bearer = {"Authorization": f"Bearer {TOKEN}", "Connection": "close"}
        request = Request(f"http://127.0.0.1:{port}{path}", headers=bearer)
        with urlopen(request, timeout=30) as answer:
            return str(answer.read().decode())

    def opens() -> bool:
        try:
            return bool(ask("/health/live"))
        except (OSError, HTTPError):
            return False

    with running(web):
        until(opens, seconds=120)
        for _ in range(20):
            ask("/health/live")
        found = figures(ask("/metrics"))
    assert found.of("hardstand_requests_total", "health/live", "GET", "200") >= 21


def test_a_start_loads_no_library_that_only_some_processes_need():
    """Figures without a token, solvers before there is something to plan, Redis without one."""
    loads = "import django, sys; django.setup(); import server.urls, server.celery"
    slow = {"prometheus_client", "ortools", "pandas", "redis"}
    said = f"{loads}; print({slow} & sys.modules.keys())"
    environment = {k: v for k, v in os.environ.items() if k not in SERVED}
    environment |= {"DJANGO_SETTINGS_MODULE": "server.settings", "METRICS_TOKEN": ""}
    command = [sys.executable, "-c", said]
    out = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, check=True)
    assert out.stdout.decode().strip() == "set()"
