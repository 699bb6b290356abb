"""A locked or absent database gives 503 with Retry-After from every kind of view."""

import sqlite3
from contextlib import contextmanager

import pytest
from django.db import OperationalError, connection
from django.test import Client

from apps.http.middleware.database import database_away

ERRORS = {
    "locked": ("sqlite", sqlite3.SQLITE_BUSY),
    "full": ("sqlite", sqlite3.SQLITE_FULL),
    "lock timeout": ("postgres", "55P03"),
    "deadlock": ("postgres", "40P01"),
    "shut down": ("postgres", "57P01"),
    "too many connections": ("postgres", "53300"),
    "refused": ("postgres", None),
}


def trouble(name: str, code: int | str | None) -> OperationalError:
    """A driver's error as Django raises it."""
    cause: Exception
    if name == "sqlite":
        cause = sqlite3.OperationalError("database is locked")
        cause.sqlite_errorcode = code
    else:
        cause = Exception("from the server")
        cause.sqlstate = code
    error = OperationalError(*cause.args)
    error.__cause__ = cause
    return error


@contextmanager
def every_query(error: Exception):
    def fail(execute, sql, params, many, context):
        raise error

    with connection.execute_wrapper(fail):
        yield


def client() -> Client:
    return Client(raise_request_exception=False)


def require_later(answer) -> None:
    assert answer.status_code == 503, answer.content
    assert answer["Content-Type"] == "application/problem+json"
    assert int(answer["Retry-After"]) > 0
    assert (answer.json()["code"], answer.json()["status"]) == ("unavailable", 503)


@pytest.mark.parametrize("error", ERRORS.values(), ids=ERRORS)
def test_it_works(cast, error):
    with every_query(trouble(*error)):
        require_later(cast.ola.get("/groups"))
        require_later(cast.ola.post("/groups", {"name": "Skua"}))


@pytest.mark.parametrize(
    "path",
    [
        "/oauth/authorize?client_id=x",
        "/admin/",
        "/media/photos/0190a6b5-0000-7000-8000-000000000000/image?token=x",
        "/archives/exports/x",
        "/api/v1/people/me",
    ],
)
def test_from_every_kind_of_view(cast, path):
    """Also where a session, and not a view, makes the first query."""
    asking = client()
    asking.cookies["sessionid"] = "some"
    with every_query(trouble("sqlite", sqlite3.SQLITE_BUSY)):
        answer = asking.get(path, headers={"Authorization": "Bearer x"})
    if answer.status_code != 503:  # nothing was asked of the database
        assert answer.status_code in (302, 400, 401, 404)
    else:
        require_later(answer)


def test_when_the_transaction_cannot_begin(cast, monkeypatch):
    """SQLite waits for the lock there."""

    def locked(self):
        raise trouble("sqlite", sqlite3.SQLITE_BUSY)

    monkeypatch.setattr("apps.http.views.transaction.atomic", locked_atomic(locked))
    require_later(cast.ola.post("/groups", {"name": "Skua"}))


def locked_atomic(enter):
    class Locked:
        __enter__ = enter

        def __exit__(self, *_):
            return False

    return Locked


@pytest.mark.parametrize("error", [("sqlite", sqlite3.SQLITE_ERROR), ("postgres", "42P01")])
def test_what_is_wrong_with_the_question_is_our_fault(cast, error):
    """No such table: waiting does not change that."""
    assert not database_away(trouble(*error))
    with every_query(trouble(*error)), pytest.raises(OperationalError):
        cast.ola.get("/groups")


def test_nothing_is_half_written(cast, monkeypatch):
    from apps.groups.models import Group

    before = Group.objects.count()

    def fail(execute, sql, params, many, context):
        if "events_event" in sql:
            raise trouble("sqlite", sqlite3.SQLITE_BUSY)
        return execute(sql, params, many, context)

    with connection.execute_wrapper(fail):
        require_later(cast.ola.post("/groups", {"name": "Skua"}))
    assert Group.objects.count() == before
