"""Queries whose SQL is composed once and then run with other parameters.

Django composes the SQL of a query anew each time, which takes it about ten times as long as the
database takes to answer from an index. This pays for the few queries of nearly every request.
"""

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from typing import Any, Generic, TypeVar

from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db.models import DateTimeField, Model, QuerySet

Parameter = uuid.UUID | datetime | str | int
Row = tuple[Any, ...]
M = TypeVar("M", bound=Model)
# Stand-ins for parameters while the SQL is composed; nothing else in a query equals one of them.
MARKS: dict[type, Callable[[int], Any]] = {
    uuid.UUID: lambda n: uuid.UUID(int=(1 << 127) + n),
    datetime: lambda n: datetime(1923, 4, 5, 6, 7, 8, n, tzinfo=UTC),
    int: lambda n: 7_305_182_946 + n,
    str: lambda n: f"\u241aparameter {n}\u241a",
}


@dataclass(frozen=True)
class _Composed:
    """at: for each place of a parameter in the SQL, its number; fixed: the other values.

    converters: for columns that have any, the place, Django's converters, and the column. They
    leave None as it is.
    """

    sql: str
    fixed: tuple[Any, ...]
    at: dict[int, int]
    converters: list[tuple[int, list[Callable[..., Any]], Any]]

    def converted(self, rows: list[Row], database: Any) -> list[Row]:
        read = []
        for row in map(list, rows):
            for place, converters, column in self.converters:
                if row[place] is not None:
                    for converter in converters:
                        row[place] = converter(row[place], column, database)
            read.append(tuple(row))
        return read


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
        return self.read(self.stored(*given))

    def stored(self, *given: Parameter) -> list[Row]:
        """The rows as the database gives them, to compare them or to `read` them later."""
        database = connections[DEFAULT_DB_ALIAS]  # found once: `connection` looks it up each time
        composed = self._composed.get(database.vendor) or self._composed_now()
        stored = self._as_stored(given, database)
        values = list(composed.fixed)
        for place, number in composed.at.items():
            values[place] = stored[number]
        with database.cursor() as cursor:
            cursor.execute(composed.sql, values)
            rows: list[Row] = cursor.fetchall()
        return rows

    def read(self, rows: list[Row]) -> list[Row]:
        """The values of rows from `stored`."""
        database = connections[DEFAULT_DB_ALIAS]
        composed = self._composed.get(database.vendor) or self._composed_now()
        return composed.converted(rows, database) if composed.converters else rows

    def _as_stored(self, given: tuple[Any, ...], database: Any) -> list[Any]:
        if len(given) != len(self._types):
            raise TypeError(f"Needed: {self._types}; given: {given}")
        return [
            _as_stored(one, kind, database) for one, kind in zip(given, self._types, strict=True)
        ]

    def first(self, *given: Parameter) -> Row | None:
        return next(iter(self(*given)), None)

    def _composed_now(self) -> _Composed:
        marks = [MARKS[kind](n) for n, kind in enumerate(self._types, 1)]
        compiler: Any = self._compose(*marks).query.get_compiler(connection=connection)
        sql, fixed = compiler.as_sql()
        stored = self._as_stored(tuple(marks), connection)
        at = {place: stored.index(value) for place, value in enumerate(fixed) if value in stored}
        columns = [column for column, _, _ in compiler.select]
        converters = [(place, *found) for place, found in compiler.get_converters(columns).items()]
        composed = _Composed(sql, tuple(fixed), at, converters)
        return self._composed.setdefault(connection.vendor, composed)


class PreparedRecord(Generic[M]):
    """A query of one record, with those it refers to, as `select_related` gives them.

    related: paths from it to them; a longer path after the shorter one that it begins with.
    """

    def __init__(
        self,
        model: type[M],
        related: tuple[str, ...],
        compose: Callable[..., QuerySet[M]],
        *types: type[Parameter],
    ) -> None:
        self._paths, self._model = ("", *related), model
        self._rows = Prepared(
            lambda *given: compose(*given).values_list(
                *(f"{path}__{name}".strip("_") for path, _, own in self._parts for name in own)
            ),
            *types,
        )

    @cached_property
    def _parts(self) -> list[tuple[str, Any, list[str]]]:
        """By path: the model there and its columns. Models are known when all are loaded."""
        models: dict[str, Any] = {"": self._model}
        for path in self._paths[1:]:
            holder, _, name = path.rpartition("__")
            models[path] = models[holder]._meta.get_field(name).related_model
        return [
            (path, model, [field.attname for field in model._meta.concrete_fields])
            for path, model in models.items()
        ]

    def __call__(self, *given: Parameter) -> M | None:
        row = self._rows.first(*given)
        if row is None:
            return None
        made: dict[str, Any] = {}
        for path, model, columns in self._parts:
            values, row = row[: len(columns)], row[len(columns) :]
            # Without a record there, its key is None too.
            there = values[columns.index(model._meta.pk.attname)] is not None
            made[path] = model.from_db(DEFAULT_DB_ALIAS, columns, values) if there else None
            holder, _, name = path.rpartition("__")
            if path and made[holder] is not None:
                setattr(made[holder], name, made[path])
        found: M = made[""]
        return found


_MOMENT = DateTimeField()


def _as_stored(value: Any, kind: type[Parameter], database: Any) -> Any:
    if kind is uuid.UUID and isinstance(value, str):
        value = uuid.UUID(value)
    if not isinstance(value, kind):
        raise TypeError(f"Needed: {kind}; given: {value!r}")
    if isinstance(value, uuid.UUID):
        return value if database.features.has_native_uuid_field else value.hex
    if kind is datetime:
        return _MOMENT.get_db_prep_value(value, database)
    return value
