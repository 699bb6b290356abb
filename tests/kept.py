"""Worlds that are made once a run: after that, their rows go back without being made again.

Working out the results of a list takes most of the time of the tests that read them. What is made
is compared with what was there before, row by row; putting it back takes a tenth of the time.
Whoever plays in such a world has the same ids in each test.
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

sqlite3.register_adapter(time, time.isoformat)  # what it reads from a column of times of day


@dataclass
class Kept:
    """gone: keys of rows that were changed or deleted. new: rows as they are afterwards."""

    world: Any
    gone: dict[type[Model], list[Any]]
    new: dict[type[Model], list[Row]]


_kept: dict[Hashable, Kept] = {}


def kept(name: Hashable, make: Callable[[], World]) -> World:
    """What `make` returns; the second time its rows are put back and a copy of it is returned.

    Where something else was there before, it is another world.
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
    """Of every table: by this it is known whether the same is there as the last time."""
    counts = (f"(SELECT count(*) FROM {_table(model)})" for model in all_models())
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT {', '.join(counts)}")
        return cursor.fetchone()


def all_rows() -> Rows:
    return {model: rows_of(model) for model in all_models()}


def all_models() -> list[type[Model]]:
    return apps.get_models(include_auto_created=True)


def rows_of(model: type[Model]) -> dict[Any, Row]:
    with connection.cursor() as cursor:
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
    """What a test committed goes; the rows that Django makes for each model stay.

    Django's own way takes PostgreSQL more than a second: it truncates a hundred tables, most of
    them empty, and makes those rows anew.
    """
    with transaction.atomic(), connection.cursor() as cursor:
        for model in all_models():
            if model not in (ContentType, Permission) and model._meta.managed:
                cursor.execute(f"DELETE FROM {_table(model)}")


def _table(model: type[Model]) -> str:
    return connection.ops.quote_name(model._meta.db_table)
