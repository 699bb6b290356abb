"""The backend. Django finds it by this file's name."""

from functools import lru_cache
from typing import Any

from django.db.backends.sqlite3 import base
from django.db.backends.sqlite3.operations import DatabaseOperations

LONGEST_KEPT = 20_000  # characters: longer statements insert many rows, and few are alike


class Cursor(base.SQLiteCursorWrapper):
    """Django's own searches each statement for place holders each time it runs.

    That takes longer than SQLite needs for a short query.
    """

    def convert_query(self, query: str, *, param_names: list[str] | None = None) -> str:
        if param_names is None and len(query) <= LONGEST_KEPT:
            return _converted(query)
        return super().convert_query(query, param_names=param_names)


@lru_cache(maxsize=1000)
def _converted(query: str) -> str:
    return base.FORMAT_QMARK_REGEX.sub("?", query).replace("%%", "%")


class Operations(DatabaseOperations):
    compiler_module = "server.sqlite3.compiler"


class DatabaseWrapper(base.DatabaseWrapper):
    ops_class = Operations

    def create_cursor(self, name: str | None = None) -> Any:
        return self.connection.cursor(factory=Cursor)
