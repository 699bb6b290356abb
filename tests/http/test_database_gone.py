"""A database that refuses or is silent: 503 at once from a real web server, and no error after."""

import json
import os
import time
from collections.abc import Iterator
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest
from django.db import connection

from server.postgresql import ANSWERS_WITHIN, CONNECTED_WITHIN
from tests.system.processes import Gate, Process, answers, free_port, running, until

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.served,
    pytest.mark.skipif(
        connection.vendor != "postgresql" or not os.environ.get("REDIS_URL"),
        reason="needs DATABASE_URL and REDIS_URL",
    ),
]
ROOM = 6  # seconds on a busy machine


@pytest.fixture
def gate() -> Iterator[Gate]:
    own = connection.settings_dict
    gate = Gate(own["HOST"] or "127.0.0.1", int(own["PORT"] or 5432))
    yield gate
    gate.become("closed")  # or the test database could not be removed
    gate.shutdown()
    gate.server_close()


@pytest.fixture
def web(gate, tmp_path) -> Iterator[str]:
    own = connection.settings_dict
    user = f"{own['USER']}:{own['PASSWORD']}" if own["PASSWORD"] else own["USER"]
    environment = {"DATABASE_URL": f"postgres://{user}@127.0.0.1:{gate.port}/{own['NAME']}"}
    port = free_port()
    command = ("-m", "gunicorn", "server.wsgi", f"--bind=127.0.0.1:{port}", "--threads=4")
    web = Process(
        *command, "--no-control-socket", log=tmp_path / "web.log", environment=environment
    )
    with running(web):
        until(lambda: answers(f"http://127.0.0.1:{port}"), seconds=200)
        yield f"http://127.0.0.1:{port}"


def asked(web: str, who, body: dict | None = None) -> tuple[int, float, dict]:
    """The status, the seconds that it took, and the headers."""
    data = None if body is None else json.dumps(body).encode()
    headers = {"Authorization": f"Bearer {who.secret}", "Content-Type": "application/json"}
    request = Request(f"{web}/api/v1/groups", data=data, headers=headers)
    started = time.monotonic()
    try:
        with urlopen(request, timeout=60) as answer:
            answer.read()
            return answer.status, time.monotonic() - started, dict(answer.headers)
    except HTTPError as error:
        return error.code, time.monotonic() - started, dict(error.headers)


def test_it_is_503_at_once_and_works_again_at_once(web, gate, cast):
    for state in ("closed", "silent"):
        for _ in range(3):
            assert asked(web, cast.ola)[0] == 200
        gate.become(state)
        for body in (None, {"name": "Skua"}):
            status, seconds, headers = asked(web, cast.ola, body)
            assert status == 503, state
            assert int(headers["Retry-After"]) > 0
            assert seconds < ANSWERS_WITHIN + CONNECTED_WITHIN + ROOM, state
        gate.become("open")
        later = [asked(web, cast.ola)[0] for _ in range(40)]
        assert set(later) == {200}, state
