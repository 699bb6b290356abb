"""Differences between two catalogues, by thing and by field."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from apps.catalogue.own.kinds import KINDS, things
from apps.catalogue.snapshot import Catalogue

ADDED, CHANGED, LEFT_OUT = "added", "changed", "left_out"
DIFFERENCES = (ADDED, CHANGED, LEFT_OUT)


@dataclass(frozen=True)
class FieldDifference:
    """before, after: None if the entry does not have the field."""

    field: str
    before: Any
    after: Any


@dataclass(frozen=True)
class Difference:
    kind: str
    code: str
    title: str
    difference: str
    fields: tuple[FieldDifference, ...]


def differences(before: Catalogue, after: Catalogue) -> Iterator[Difference]:
    """By kind; things that were left out come last in their kind."""
    for name, kind in KINDS.items():
        old, new = things(before, name), things(after, name)
        for code in dict.fromkeys((*new, *old)):
            if old.get(code) == new.get(code):
                continue
            before_it, after_it = (kind.write(of[code]) if code in of else {} for of in (old, new))
            yield Difference(
                kind=name,
                code=code,
                title=new.get(code, old.get(code)).title,
                difference=ADDED if code not in old else CHANGED if code in new else LEFT_OUT,
                fields=tuple(
                    FieldDifference(field, before_it.get(field), after_it.get(field))
                    for field in dict.fromkeys((*after_it, *before_it))
                    if before_it.get(field) != after_it.get(field)
                ),
            )
