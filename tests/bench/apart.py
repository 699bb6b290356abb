"""A database of its own for a benchmark, and the processor time that work takes.

Importing it sets Django up, so it comes before models. Rate limits are off.
"""

import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "server.settings")
os.environ |= {f"RATE_{name}": "0/60" for name in ("PERSON", "CLIENT", "ADDRESS")}
django.setup()

from django.test.utils import (  # noqa: E402
    setup_databases,
    setup_test_environment,
    teardown_databases,
)


@contextmanager
def database_apart() -> Iterator[None]:
    """An empty database beside that of the settings, deleted afterwards."""
    setup_test_environment(debug=False)
    old = setup_databases(verbosity=0, interactive=False)
    try:
        yield
    finally:
        teardown_databases(old, verbosity=0)


def alternately(times: int, *works: Callable[[], object]) -> list[float]:
    """The least seconds of processor time of each work.

    They take turns, and the least counts, so that other load on the machine affects all alike and
    hardly any.
    """
    for work in works:
        work()
    best = [float("inf")] * len(works)
    for _ in range(times):
        for n, work in enumerate(works):
            started = time.process_time()
            work()
            best[n] = min(best[n], time.process_time() - started)
    return best
