"""Slow results are kept by the content of their arguments."""

import gc
import weakref
from typing import Any

import pytest

from apps.common.processes.keeping import KEPT, kept_by_content

calls: list[Any] = []


@pytest.fixture(autouse=True)
def _none_before():
    calls.clear()


@kept_by_content
def drawn(rows: Any, *, kind: str = "svg") -> bytes:
    calls.append(rows)
    if rows is None:
        raise ValueError("nothing to draw")
    return f"{kind} of {rows}".encode()


def test_equal_content_is_made_once():
    assert drawn([{"a": 1, "b": 2}]) == drawn([{"b": 2, "a": 1}])
    assert len(calls) == 1


def test_other_content_or_another_kind_is_made_anew():
    rows = [{"a": 3}]
    first = drawn(rows)
    rows[0]["a"] = 4
    assert drawn(rows) != first
    assert drawn(rows, kind="png") != drawn(rows)
    assert len(calls) == 3


def test_a_failure_is_not_kept():
    for _ in range(2):
        with pytest.raises(ValueError, match="nothing to draw"):
            drawn(None)
    assert len(calls) == 2


def test_the_arguments_are_not_kept():
    class Row(dict):
        pass

    row = Row(a="large")
    gone = weakref.ref(row)
    drawn(row)
    calls.clear()
    del row
    gc.collect()
    assert gone() is None


def test_only_the_last_results_are_kept():
    for n in range(KEPT + 1):
        drawn([n])
    drawn([0])
    assert calls == [*([n] for n in range(KEPT + 1)), [0]]
