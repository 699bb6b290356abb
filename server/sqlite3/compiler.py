"""Composes queries for SQLite. Django finds the classes by these names."""

from django.db.models.sql import compiler
from django.db.models.sql.compiler import (
    SQLAggregateCompiler,
    SQLDeleteCompiler,
    SQLInsertCompiler,
    SQLUpdateCompiler,
)

from server.columns import QuickColumns

__all__ = [
    "SQLAggregateCompiler",
    "SQLCompiler",
    "SQLDeleteCompiler",
    "SQLInsertCompiler",
    "SQLUpdateCompiler",
]


class SQLCompiler(QuickColumns, compiler.SQLCompiler):
    pass
