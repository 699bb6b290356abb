"""The id of a request: from the proxy, into the answer, the log, and the tasks it sets off."""

import json
import logging
import uuid
from types import SimpleNamespace

import pytest
from django.db import connection

from apps.common.processes.broker import Broker
from apps.common.request_ids import begin, current_id
from server import signs
from server.logs import JsonLines, make_record

GIVEN = "from-the-proxy.0123"


def test_it_works(client):
    answer = client.get("/health/live", headers={"X-Request-ID": GIVEN})
    assert answer["X-Request-ID"] == GIVEN


@pytest.mark.parametrize(
    "given",
    [
        "",
        "short",
        "x" * 65,
        "with spaces in it",
        "line\nbreak-12345",
        'quote"12345678',
        "-12345678",
    ],
)
def test_another_is_made_for_one_that_cannot_be_taken(client, given):
    answer = client.get("/health/live", headers={"X-Request-ID": given})
    assert str(uuid.UUID(answer["X-Request-ID"])) == answer["X-Request-ID"]


def test_each_request_has_its_own(client):
    ids = {client.get("/health/live")["X-Request-ID"] for _ in range(3)}
    assert len(ids) == 3


def test_a_refusal_has_it_too(cast):
    assert cast.sten.get("/groups/nonsense", X_Request_ID=GIVEN)["X-Request-ID"] == GIVEN


def test_a_fault_tells_it_to_whoever_reports_it(cast, client, caplog):
    def fail(*_):
        raise RuntimeError("a fault")

    client.raise_request_exception = False
    bearer = {"Authorization": f"Bearer {cast.ben.secret}", "X-Request-ID": GIVEN}
    with connection.execute_wrapper(fail):
        answer = client.get("/api/v1/groups", headers=bearer)
    assert (answer.status_code, answer.json()["request_id"]) == (500, GIVEN)
    assert answer["X-Request-ID"] == GIVEN


def test_it_goes_with_the_messages_to_workers(monkeypatch):
    sent = {}
    monkeypatch.setattr(
        "apps.common.processes.broker.current_app",
        SimpleNamespace(send_task=lambda task, **options: sent.update(options)),
    )
    begin(GIVEN)
    assert Broker().send("a.task", "x")
    assert sent["headers"] == {"request_id": GIVEN}


@pytest.mark.parametrize(
    ("headers", "held"), [({"request_id": GIVEN}, GIVEN), ({}, "id-of-the-task")]
)
def test_the_task_takes_it_over(headers, held):
    task = SimpleNamespace(request=SimpleNamespace(**headers))
    signs.take_request_id(task_id="id-of-the-task", task=task)
    assert current_id() == held


def test_a_line_of_the_log_has_it():
    begin(GIVEN)
    try:
        raise ValueError("no answer from https://example.org/in?key=hst_c2VjcmV0LXNlY3JldC1zZWNy")
    except ValueError as error:
        given = (type(error), error, error.__traceback__)
    record = make_record("apps.x", logging.ERROR, "x.py", 1, "asked /in?key=%s", ("abc",), given)
    record.request = "GET /media/photo?token=abc"  # as Django adds it
    line = JsonLines().format(record)
    said = json.loads(line)
    assert (said["request_id"], said["level"], said["logger"]) == (GIVEN, "ERROR", "apps.x")
    assert said["message"] == "asked /in?[left out]"
    assert said["exception"].startswith("Traceback")
    assert "abc" not in line
    assert "c2VjcmV0" not in line
    assert "\n" not in line
