"""Reads a finding in the form in which nearly all are sent, without a serializer.

A submission has up to hundreds of findings, and each field of a serializer costs several calls.
Whatever is not in this form is left to `FindingBody`, which also names the faults.
"""

from collections.abc import Callable, Collection, Mapping
from typing import Any

from apps.viewings.models import REASONS, Finding

NEEDED = {"checkpoint", "kind"}


def usual_finding(sent: Any) -> dict[str, Any] | None:
    """The same as `FindingBody` makes of it; None if it is not in the usual form."""
    if type(sent) is not dict or not sent.keys() >= NEEDED:
        return None
    for name, value in sent.items():
        is_usual = USUAL.get(name)
        if is_usual is None or not is_usual(value):
            return None
    read = {"sureness": Finding.Sureness.FAIRLY, "note": "", "tags": [], **sent}
    if "reason" in read:
        read["reason"] = read["reason"] or ""
    return read


def is_text(value: Any, longest: int) -> bool:
    """Text that a text field keeps as it is: no space around it, nothing that does not print."""
    return (
        type(value) is str
        and len(value) <= longest
        and value.isprintable()
        and value == value.strip()
    )


def one_of(words: Collection[str]) -> Callable[[Any], bool]:
    known = frozenset(words)
    return lambda value: type(value) is str and value in known


def is_level(value: Any) -> bool:
    return value is None or (type(value) is int and 0 <= value <= 4)


def are_tags(value: Any) -> bool:
    return (
        type(value) is list and len(value) <= 30 and all(tag and is_text(tag, 60) for tag in value)
    )


is_reason = one_of(REASONS)

USUAL: Mapping[str, Callable[[Any], bool]] = {
    "checkpoint": lambda value: bool(value) and is_text(value, 60),
    "kind": one_of(Finding.Kind.values),
    "level": is_level,
    "reason": lambda value: value is None or is_reason(value),
    "sureness": one_of(Finding.Sureness.values),
    "measured": lambda value: value is None,
    "note": lambda value: is_text(value, 4000),
    "tags": are_tags,
}
