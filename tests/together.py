"""Simultaneous calls, on a database with several writers."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.db import connections

# The mark for such modules; SQLite has one writer, and in memory one connection.
SEVERAL_WRITERS = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.served,
    pytest.mark.usefixtures("several_writers"),
]


def at_once(*calls: Callable[[], Any]) -> list[Any]:
    """The results of the calls, in their order, each made in its own thread."""

    def made(call: Callable[[], Any]) -> Any:
        try:
            return call()
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(calls)) as pool:
        return list(pool.map(made, calls))


def statuses_at_once(*calls: Callable[[], Any]) -> list[int]:
    """The sorted statuses of the answers, because the order of the calls is unknown."""
    return sorted(answer.status_code for answer in at_once(*calls))
