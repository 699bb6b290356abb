"""The place holders of statements on SQLite, which the service's backend converts once."""

import pytest
from django.db import connection

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_sqlite():
    if connection.vendor != "sqlite":
        pytest.skip("SQLite has a backend of its own")


def rows(sql, values):
    with connection.cursor() as cursor:
        cursor.execute(sql, values)
        return cursor.fetchall()


def test_values_are_bound_and_a_doubled_percent_sign_is_one():
    sql = "SELECT %s, '100%%', %s"
    assert rows(sql, ["%s", 1]) == rows(sql, ["%s", 1]) == [("%s", "100%", 1)]


def test_named_values_and_very_long_statements():
    assert rows("SELECT %(b)s, %(a)s", {"a": 1, "b": 2}) == [(2, 1)]
    padding = " " * 30_000
    assert rows(f"SELECT{padding}%s", [7]) == [(7,)]


def test_without_values_nothing_is_converted():
    assert rows("SELECT '%s'", None) == [("%s",)]
