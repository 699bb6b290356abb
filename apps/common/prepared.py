"""Queries whose SQL is composed once and then run with other parameters.

Django composes the SQL of a query anew each time, which takes it about ten times as long as the
database takes to answer from an index. This pays for the few queries of nearly every request.
"""

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db.models import DateTimeField, QuerySet, UUIDField

Parameter = uuid.UUID | datetime | str | int
Row = tuple[Any, ...]
# Stand-ins for parameters while the SQL is composed; nothing else in a query equals one of them.
MARKS: dict[type, Callable[[int], Any]] = {
    uuid.UUID: lambda n: uuid.UUID(int=(1 << 127) + n),
    datetime: lambda n: datetime(1923, 4, 5, 6, 7, 8, n, tzinfo=UTC),
    int: lambda n: 7_305_182_946 + n,
    str: lambda n: f"\u241aparameter {n}\u241a",
}


@dataclass(frozen=True)
class _Composed:
    """at: for each place of a parameter in the SQL, its number; fixed: the other values."""

    sql: str
    fixed: tuple[Any, ...]
    at: dict[int, int]
    compiler: Any
    converters: Any


class Prepared:
    """A query of plain values.

    compose: returns the query as `values_list`, given its parameters; it must not depend on them
    otherwise. types: of the parameters, in order. An id may come as text. A call with anything else
    raises TypeError: it would find nothing, and a check that finds nothing may let somebody in.
    """

    def __init__(self, compose: Callable[..., QuerySet[Any, Any]], *types: type[Parameter]) -> None:
        self._compose, self._types = compose, types
        self._composed: dict[str, _Composed] = {}  # by database

    def __call__(self, *given: Parameter) -> list[Row]:
        given = self._as_declared(given)
        database = connections[DEFAULT_DB_ALIAS]  # found once: `connection` looks it up each time
        composed = self._composed.get(database.vendor) or self._composed_now()
        stored = [_as_stored(value, database) for value in given]
        values = list(composed.fixed)
        for place, number in composed.at.items():
            values[place] = stored[number]
        with database.cursor() as cursor:
            cursor.execute(composed.sql, values)
            rows = cursor.fetchall()
        if composed.converters:
            rows = list(composed.compiler.apply_converters(rows, composed.converters))
        return [tuple(row) for row in rows]

    def _as_declared(self, given: tuple[Parameter, ...]) -> tuple[Parameter, ...]:
        read = tuple(
            uuid.UUID(one) if kind is uuid.UUID and isinstance(one, str) else one
            for one, kind in zip(given, self._types, strict=False)
        )
        if len(given) != len(self._types) or not all(map(isinstance, read, self._types)):
            raise TypeError(f"Needed: {self._types}; given: {given}")
        return read

    def first(self, *given: Parameter) -> Row | None:
        return next(iter(self(*given)), None)

    def _composed_now(self) -> _Composed:
        marks = [MARKS[kind](n) for n, kind in enumerate(self._types, 1)]
        compiler: Any = self._compose(*marks).query.get_compiler(connection=connection)
        sql, fixed = compiler.as_sql()
        stored = [_as_stored(mark, connection) for mark in marks]
        at = {place: stored.index(value) for place, value in enumerate(fixed) if value in stored}
        columns = [column for column, _, _ in compiler.select]
        converters = compiler.get_converters(columns)
        composed = _Composed(sql, tuple(fixed), at, compiler, converters)
        return self._composed.setdefault(connection.vendor, composed)


_ID, _MOMENT = UUIDField(), DateTimeField()


def _as_stored(value: Parameter, database: Any) -> Any:
    if isinstance(value, uuid.UUID):
        return _ID.get_db_prep_value(value, database)
    if isinstance(value, datetime):
        return _MOMENT.get_db_prep_value(value, database)
    return value
