"""Test data that are made once per run and later restored from their rows.

Computing a list's results takes most of the time of tests that read them. The rows that making adds
are found by comparison with the rows before; restoring them takes a tenth of the time. The ids are
the same in each test.
"""

import copy
import sqlite3
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from datetime import time
from typing import Any, TypeVar

from django.apps import apps
from django.contrib.auth.models import Permission
from django.contrib.contenttypes.models import ContentType
from django.db import connection, transaction
from django.db.models import Model

World = TypeVar("World")
Row = tuple[Any, ...]
Rows = dict[type[Model], dict[Any, Row]]  # by primary key

sqlite3.register_adapter(
    time, time.isoformat
)  # the type that it reads from a column of times of day


@dataclass
class Kept:
    """gone: keys of rows that were changed or deleted. new: rows as they are afterwards."""

    world: Any
    gone: dict[type[Model], list[Any]]
    new: dict[type[Model], list[Row]]


_kept: dict[Hashable, Kept] = {}


def kept(name: Hashable, make: Callable[[], World]) -> World:
    """What `make` returns; later its rows are restored and a copy is returned.

    Different rows before mean different data.
    """
    at = (name, row_counts())
    if at in _kept:
        put_back(_kept[at])
        return copy.deepcopy(_kept[at].world)
    before = all_rows()
    world = make()
    after = all_rows()
    _kept[at] = Kept(
        copy.deepcopy(world),
        gone={
            model: [key for key, row in rows.items() if after[model].get(key) != row]
            for model, rows in before.items()
        },
        new={
            model: [row for key, row in rows.items() if before[model].get(key) != row]
            for model, rows in after.items()
        },
    )
    return world


def row_counts() -> tuple[int, ...]:
    """The row counts of all tables, to recognise the same state as last time."""
    counts = (f"(SELECT count(*) FROM {_table(model)})" for model in all_models())
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {', '.join(counts)}")
        return cursor.fetchone()


def all_rows() -> Rows:
    return {model: rows_of(model) for model in all_models()}


def all_models() -> list[type[Model]]:
    return apps.get_models(include_auto_created=True)


def rows_of(model: type[Model], cursor: Any = None) -> dict[Any, Row]:
    """The rows of a table, in the service's database or in that of the cursor."""
    if cursor is None:
        with connection.cursor() as own:
            return rows_of(model, own)
    cursor.execute(f"SELECT * FROM {_table(model)}")
    names = [column[0] for column in cursor.description]
    key = names.index(model._meta.pk.column)
    return {row[key]: row for row in cursor.fetchall()}


def put_back(what: Kept) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        for model, keys in what.gone.items():
            if keys:
                column = connection.ops.quote_name(model._meta.pk.column)
                statement = f"DELETE FROM {_table(model)} WHERE {column} = %s"
                cursor.executemany(statement, [(key,) for key in keys])
        for model, rows in what.new.items():
            if rows:
                places = ", ".join(["%s"] * len(rows[0]))
                cursor.executemany(f"INSERT INTO {_table(model)} VALUES ({places})", rows)


def delete_rows(_: object = None) -> None:
    """Delete what a test committed, except the rows that Django makes for each model.

    Django's own flush takes more than a second on PostgreSQL: it truncates a hundred tables, most
    of them empty, and makes those rows again.
    """
    with transaction.atomic(), connection.cursor() as cursor:
        for model in all_models():
            if model not in (ContentType, Permission) and model._meta.managed:
                cursor.execute(f"DELETE FROM {_table(model)}")


def _table(model: type[Model]) -> str:
    return connection.ops.quote_name(model._meta.db_table)
