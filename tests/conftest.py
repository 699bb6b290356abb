"""Shared by all tests: a named cast, and a client that acts as one of them.

Ola organises the Tern group, Ben and Bea buy, Hal helps, Ivy only observes. Wim belongs to another
group, Sten to none: neither can see the Tern group.
"""

import gc
import json
import os
import sys
import uuid
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from functools import cache, partial
from pathlib import Path
from typing import Any

import hypothesis
import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.handlers.base import BaseHandler
from django.core.serializers.json import DjangoJSONEncoder
from django.db import connection
from django.test import Client, TransactionTestCase, override_settings
from django.test.client import BOUNDARY, MULTIPART_CONTENT, ClientHandler, encode_multipart
from django.utils import timezone
from uuid_utils.compat import uuid7

from apps.accounts.models import Person, Token
from apps.accounts.secrets import digest, new_secret
from apps.groups.models import Group, Membership
from tests.kept import delete_rows, kept
from tests.system.processes import migrated_copy

# Compile modules once, and not again in each worker and each process of the service.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

# The number of examples for each property, without a time limit.
hypothesis.settings.register_profile(
    "suite",
    max_examples=100,
    deadline=None,
    suppress_health_check=[hypothesis.HealthCheck.too_slow],
)
hypothesis.settings.load_profile("suite")


def ignored() -> list[str]:
    """Tests in a browser, which not every machine has, run if they are named, and in CI."""
    return [] if os.environ.get("HARDSTAND_CI") else ["browser"]


collect_ignore = ignored()

TransactionTestCase._fixture_teardown = delete_rows


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--database-only", action="store_true", help="leave out tests that ask no database"
    )


def pytest_xdist_auto_num_workers() -> int:
    """One more than there are processors: some tests mostly wait for processes or a browser."""
    return (os.cpu_count() or 1) + 1


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--database-only"):
        config.hook.pytest_deselected(items=[item for item in items if not asks_database(item)])
        items[:] = [item for item in items if asks_database(item)]
    deal_out(items, getattr(config, "workerinput", {}).get("workercount", 1))


def asks_database(item: pytest.Item) -> bool:
    fixtures = getattr(item, "fixturenames", ())
    return "django_db_setup" in fixtures or item.get_closest_marker("django_db") is not None


def deal_out(items: list[pytest.Item], workers: int) -> None:
    """Distribute the longest files, so that each worker starts with some of them.

    Otherwise one worker would still run the last of them when the others have finished.
    """
    files: dict[object, list[pytest.Item]] = {}
    for item in items:
        if is_long(item):
            files.setdefault(bundle(item), []).append(item)
    hands = [
        [item for file in [*files.values()][n::workers] for item in file] for n in range(workers)
    ]
    short = [item for item in items if not is_long(item)]
    dealt: list[pytest.Item] = []
    for n, hand in enumerate(hands):
        # Each worker gets an equal part of the tests that remain.
        fill = max(0, (len(items) - len(dealt)) // (workers - n) - len(hand))
        dealt += [*hand, *short[:fill]]
        del short[:fill]
    items[:] = [*dealt, *short]


def is_long(item: pytest.Item) -> bool:
    return item.get_closest_marker("long") is not None or in_both_worlds(item)


def bundle(item: pytest.Item) -> object:
    """What one worker takes: a file, or all tests in the two worlds, which take long to make."""
    return "worlds" if in_both_worlds(item) else item.path


def in_both_worlds(item: pytest.Item) -> bool:
    return "worlds" in getattr(item, "fixturenames", ())


def pytest_collection_finish() -> None:
    """Exclude long-lived objects from garbage collection, which took a tenth of the time."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print the ten slowest files, to show when the suite becomes slower."""
    spent: Counter[str] = Counter()
    for reports in terminalreporter.stats.values():
        for report in reports:
            if type(report) is pytest.TestReport:
                spent[report.nodeid.partition("::")[0]] += report.duration
    if len(spent) > 10:
        terminalreporter.section("slowest files")
        for file, seconds in spent.most_common(10):
            terminalreporter.line(f"{seconds:6.0f} s  {file}")


@pytest.fixture(autouse=True, scope="session")
def _quick_passwords():
    """For the whole session, because fixtures of modules and of the session set passwords too."""
    quick = "django.contrib.auth.hashers.MD5PasswordHasher"
    with override_settings(PASSWORD_HASHERS=[quick, *settings.PASSWORD_HASHERS]):
        yield


@pytest.fixture(autouse=True)
def _no_rate_limits(settings):
    """Disable rate limits; tests of the limits set their own."""
    settings.RATES = {name: (0, window_s) for name, (_, window_s) in settings.RATES.items()}


@pytest.fixture(autouse=True)
def _workers_live(monkeypatch):
    """As if each worker had just given a sign of life; tests of these signs set their own."""
    monkeypatch.setattr("apps.jobs.life.silent_for", lambda part: 0.0)


@pytest.fixture(scope="session")
def migrated(tmp_path_factory, worker_id) -> Callable[[Path], None]:
    """Copies a migrated database with the catalogue to a path, for a process of the service."""
    own = tmp_path_factory.getbasetemp()
    return partial(migrated_copy, own if worker_id == "master" else own.parent)


@pytest.fixture
def several_writers():
    if connection.vendor == "sqlite":
        pytest.skip("SQLite has one writer, and its memory one connection")


@cache
def middleware() -> Any:
    one = ClientHandler()
    BaseHandler.load_middleware(one)
    return one._middleware_chain


def share_middleware(handler: ClientHandler, is_async: bool = False) -> None:
    """Share one chain between all clients: setting it up takes longer than a request."""
    handler._middleware_chain = middleware()


ClientHandler.load_middleware = share_middleware


@pytest.fixture(autouse=True)
def _media_apart(settings, tmp_path_factory):
    """Keep files of tests apart from those of a service on this machine."""
    media = settings.STORAGES["media"]
    apart = {**media["OPTIONS"], "location": tmp_path_factory.getbasetemp() / "media"}
    settings.STORAGES = {**settings.STORAGES, "media": {**media, "OPTIONS": apart}}


# The file name that the client sends, which the service must not keep.
FILE_NAME = "hidden-cove.jpg"


@dataclass
class Speaker:
    """Calls the API as one person; every answer is a Django response with `.json()`."""

    person: Person | None
    secret: str | None = None

    def send(self, method: str, path: str, body: Any = None, **headers: str):
        options: dict[str, Any] = {"headers": {k.replace("_", "-"): v for k, v in headers.items()}}
        if self.secret:
            options["headers"]["Authorization"] = f"Bearer {self.secret}"
        if body is not None:
            ready = isinstance(body, str | bytes)
            data = body if ready else json.dumps(body, cls=DjangoJSONEncoder)
            options |= {"data": data, "content_type": "application/json"}
        at = path if path.startswith("/api/") else f"/api/v1{path}"
        return Client().generic(method, at, **options)

    def send_form(self, path: str, fields: dict[str, Any], **headers: str):
        """Send a form in place of JSON; bytes are sent as a file."""
        form = {
            name: SimpleUploadedFile(FILE_NAME, value) if isinstance(value, bytes) else value
            for name, value in fields.items()
        }
        headers["Content_Type"] = MULTIPART_CONTENT
        return self.send("POST", path, encode_multipart(BOUNDARY, form), **headers)

    def get(self, path: str, **headers: str):
        return self.send("GET", path, **headers)

    def post(self, path: str, body: Any = None, **headers: str):
        return self.send("POST", path, {} if body is None else body, **headers)

    def put(self, path: str, body: Any, **headers: str):
        return self.send("PUT", path, body, **headers)

    def patch(self, path: str, body: Any, **headers: str):
        return self.send("PATCH", path, body, **headers)

    def delete(self, path: str, **headers: str):
        return self.send("DELETE", path, **headers)

    def change(self, method: str, path: str, body: Any = None):
        """Read, then write with the ETag just read."""
        return self.send(method, path, body, If_Match=self.get(path)["ETag"])


def speaker(name: str) -> Speaker:
    return speakers(name)[0]


def speakers(*names: str) -> list[Speaker]:
    """The signed-in cast, made in bulk, because nearly every test uses it."""
    people = [Person(email=f"{name.lower()}@example.org", name=name) for name in names]
    for person in people:
        person.set_unusable_password()
    Person.objects.bulk_create(people)
    secrets = [new_secret(Token.PREFIX) for _ in names]
    tomorrow = timezone.now() + timedelta(days=1)
    Token.objects.bulk_create(
        Token(person=person, kind=Token.Kind.SESSION, digest=digest(secret), expires_at=tomorrow)
        for person, secret in zip(people, secrets, strict=True)
    )
    return [Speaker(person, secret) for person, secret in zip(people, secrets, strict=True)]


@dataclass
class Cast:
    group: Group
    ola: Speaker
    ben: Speaker
    bea: Speaker
    hal: Speaker
    ivy: Speaker
    wim: Speaker
    sten: Speaker
    nobody: Speaker
    other_group: Group

    def membership(self, who: Speaker) -> Membership:
        return Membership.objects.get(group=self.group, person=who.person)


@pytest.fixture
def cast(db) -> Cast:
    return kept("cast", cast_made)


def cast_made() -> Cast:
    *five, wim, sten = speakers("Ola", "Ben", "Bea", "Hal", "Ivy", "Wim", "Sten")
    who = dict(zip(("ola", "ben", "bea", "hal", "ivy"), five, strict=True))
    group, other = Group.objects.create(name="Tern"), Group.objects.create(name="Skua")
    roles = {"ola": "organiser", "ben": "buyer", "bea": "buyer", "hal": "helper", "ivy": "observer"}
    members = [
        Membership(
            group=group,
            person=who[name].person,
            role=role,
            buys=role in ("organiser", "buyer"),
        )
        for name, role in roles.items()
    ]
    members.append(Membership(group=other, person=wim.person, role="organiser"))
    Membership.objects.bulk_create(members)
    return Cast(group=group, wim=wim, sten=sten, nobody=Speaker(None), other_group=other, **who)


@pytest.fixture
def fresh_id() -> uuid.UUID:
    return uuid7()


def pointers(response) -> set[str]:
    """The fields that a refusal names."""
    assert response.status_code == 422, response.content
    return {fault["pointer"] for fault in response.json()["errors"]}
