"""Composes queries for PostgreSQL. Django finds the classes by these names."""

from django.db.backends.postgresql import compiler
from django.db.backends.postgresql.compiler import (
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
