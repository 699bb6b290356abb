"""No log has a secret: not from the served setup, and not from any library."""

import io
import json
import logging
import os
from collections.abc import Iterator
from contextlib import contextmanager
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import quote

import pytest
from celery.app.log import TaskFormatter
from celery.utils.log import ColorFormatter
from django.core.signing import Signer, TimestampSigner
from django.urls import URLPattern, URLResolver, get_resolver

from server import web
from server.logs import LEFT_OUT, redacted
from tests.system.processes import Process, free_port, running, until

CONTAINERFILE = Path("server/Containerfile")
SECRET = "hst_c2VjcmV0LXNlY3JldC1zZWNyZXQtc2VjcmV0LXM"
SIGNED = Signer(salt="x").sign_object(["0190a6b5-0000-7000-8000-000000000000", 1])
TIMED = TimestampSigner(salt="x").sign_object(["somebody"])
PHOTO = "0190a6b5-0000-7000-8000-000000000000"
# The requests: no log may contain any of it, except the address without its keys.
ADDRESSES = [
    f"/media/photos/{PHOTO}/image?token={SIGNED}",
    f"/assignment-media/{PHOTO}/image?token={SIGNED}",
    f"/archives/exports/{SIGNED}",
    f"/archives/exports/{quote(SIGNED, safe='')}",
    f"/archives/imports/{SIGNED}",
    f"/notifications/confirm/{TIMED}",
    f"/notifications/unsubscribe/{SIGNED}",
    f"/oauth/authorize?code={SECRET}&state=it's-{SECRET}",
    f"/oauth/sign-in?next=/oauth/authorize%3Fcode%3D{SECRET}",
    f"/api/v1/groups?access_token={SECRET}",
    f"/nothing/{SIGNED}/here?q={SECRET}",
]
KEYS = [SIGNED.split(":")[-1], TIMED.split(":")[-1], SECRET.split("_")[1], "state=", "next="]


# --- Really served -------------------------------------------------------------------------------


def as_in_the_container(port: int) -> list[str]:
    """Start gunicorn like the image does."""
    text = CONTAINERFILE.read_text()
    command = json.loads(text[text.index("CMD") + 3 :].replace("\\\n", ""))
    assert command[:2] == ["gunicorn", "server.wsgi"]
    assert web.accesslog == "-", "or nothing is proved"
    return ["-m", *command, f"--bind=127.0.0.1:{port}"]


COMMANDS = {
    "served": as_in_the_container,
    "embedded": lambda port: ["manage.py", "serve", f"--bind=127.0.0.1:{port}"],
    "while developing": lambda port: ["manage.py", "runserver", "--noreload", f"127.0.0.1:{port}"],
}


@contextmanager
def serving(way: str, folder: Path) -> Iterator[tuple[Process, int]]:
    """The service without a database, which logs tracebacks."""
    port = free_port()
    environment = {
        "HARDSTAND_DATA_DIR": str(folder),
        "DEBUG": str(way == "embedded"),  # it logs requests only then
        "DATABASE_URL": f"sqlite:///{folder / 'apart.sqlite3'}",
    }
    process = Process(*COMMANDS[way](port), log=folder / "log", environment=environment)
    with running(process):
        until(lambda: process.running.poll() is not None or opens(port), seconds=180)
        yield process, port


def opens(port: int) -> bool:
    try:
        ask(port, "/health/live")
    except OSError:
        return False
    return True


def ask(port: int, address: str, **headers: str) -> int:
    connection = HTTPConnection("127.0.0.1", port, timeout=60)
    try:
        connection.request("GET", address, headers=headers)
        return connection.getresponse().status
    finally:
        connection.close()


@pytest.mark.skipif(bool(os.environ.get("REDIS_URL")), reason="one way to run is enough")
@pytest.mark.parametrize("way", COMMANDS)
def test_no_key_is_in_the_log_of_the_service(way, tmp_path, migrated):
    if way == "embedded":
        migrated(tmp_path / "apart.sqlite3")
    with serving(way, tmp_path) as (process, port):
        for address in ADDRESSES:
            answer = ask(port, address, Referer=f"http://127.0.0.1:{port}{address}")
            assert answer in (200, 302, 401, 404, 405, 422, 500), (address, answer)
        until(lambda: process.says("/nothing/"))
    said = (tmp_path / "log").read_text()
    for address in (
        "/media/photos/",
        "/assignment-media/",
        "/archives/exports/",
        "/notifications/confirm/",
    ):
        assert address in said, "it is logged that somebody asked"
    assert [key for key in KEYS if key in said] == []
    if way == "served":
        assert "no such table" in said, "and so are faults, with their tracebacks"


# --- Whatever logs -------------------------------------------------------------------------------


def logged(formatter: logging.Formatter, log) -> str:
    out = io.StringIO()
    handler, logger = logging.StreamHandler(out), logging.getLogger("of.some.library")
    handler.setFormatter(formatter)
    logger.addHandler(handler)
    try:
        log(logger)
    finally:
        logger.removeHandler(handler)
    return out.getvalue()


def celerys() -> list[logging.Formatter]:
    return [ColorFormatter("%(message)s", use_color=False), TaskFormatter("%(message)s")]


FORMATTERS = [logging.Formatter(), *celerys()]


@pytest.mark.parametrize("formatter", FORMATTERS, ids=lambda one: type(one).__name__)
def test_no_key_is_in_what_a_library_logs_of_a_fault(formatter):
    def fault(logger):
        try:
            raise ValueError(f"no answer from https://example.org/in/{SIGNED}?key={SECRET}: gone")
        except ValueError:
            logger.exception("sending to %s failed (%s)", f"/in?key={SECRET}", SECRET)

    said = logged(formatter, fault)
    assert [key for key in KEYS if key in said] == []
    assert f"/in?{LEFT_OUT} failed" in said
    assert "ValueError: no answer from https://example.org/in/" in said


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ('"GET /a/b?c=d HTTP/1.1" 200 5 "-"', f'"GET /a/b?{LEFT_OUT} HTTP/1.1" 200 5 "-"'),
        ('"http://x/y?z=1" "agent"', f'"http://x/y?{LEFT_OUT}" "agent"'),
        ("(/a?b), /c?d;", f"(/a?{LEFT_OUT}), /c?{LEFT_OUT};"),
        ("Is it dry? Nobody knows (yet?).", "Is it dry? Nobody knows (yet?)."),
        (f"/photos/{PHOTO}/image", f"/photos/{PHOTO}/image"),
        (f"archives/export-{PHOTO}.zip", f"archives/export-{PHOTO}.zip"),
        ("redis://127.0.0.1:6379/9", "redis://127.0.0.1:6379/9"),
        (f"Bearer {SECRET}", f"Bearer hst_{LEFT_OUT}"),
        ("whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", f"whsec_{LEFT_OUT}"),
    ],
)
def test_what_is_left_out(text, left):
    assert redacted(text) == left


def test_every_address_that_holds_a_key_is_known_here():
    """A new one must be added to the list above, whose paths are really requested."""
    with_key = {route for route in routes(get_resolver()) if "token>" in route}
    asked = {address.split("?")[0] for address in ADDRESSES}
    assert with_key
    for route in with_key:
        begins = "/" + route.partition("<")[0]
        assert any(address.startswith(begins) for address in asked), route


def routes(resolver: URLResolver, before: str = "") -> Iterator[str]:
    for entry in resolver.url_patterns:
        here = before + str(entry.pattern)
        if isinstance(entry, URLPattern):
            yield here
        else:
            yield from routes(entry, here)
