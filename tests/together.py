"""Several people at the same moment, on a database that lets them work at once."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.db import connections

# Of a module whose tests do so; SQLite has one writer, and its memory one connection.
SEVERAL_WRITERS = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.served,
    pytest.mark.usefixtures("several_writers"),
]


def at_once(*calls: Callable[[], Any]) -> list[Any]:
    """What the calls answer, in their order, each made by a thread of its own."""

    def made(call: Callable[[], Any]) -> Any:
        try:
            return call()
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(calls)) as pool:
        return list(pool.map(made, calls))


def statuses_at_once(*calls: Callable[[], Any]) -> list[int]:
    """Of the answers, sorted: which of the calls came first nobody knows."""
    return sorted(answer.status_code for answer in at_once(*calls))
