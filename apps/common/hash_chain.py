"""A chain of digests over records that are only ever added.

The digest of a record covers its text and the digest of the record before it. So whoever keeps one
digest can later tell whether any record up to it was changed, removed or inserted. Ids are written
into the texts as they were then; on another service the same things have other ids.
"""

import hashlib
import json
import uuid
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

# What is in front of the first record.
START = ""


def record_text(facts: Mapping[str, object]) -> str:
    """The facts as JSON with sorted names, without spaces."""
    return json.dumps(facts, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def text_digest(text: str) -> str:
    """The digest (SHA-256, hex) of a text alone. A chain of these can be checked by readers who may
    not read every text."""
    return hashlib.sha256(text.encode()).hexdigest()


def chained(previous: str, text: str) -> str:
    """The digest (SHA-256, hex) of a record's text after the digest of the record before it."""
    return text_digest(f"{previous}\n{text}")


def first_break(records: Iterable[tuple[str, str]]) -> int | None:
    """The place of the first record whose digest does not follow, from 0; None if all do.

    records: text and digest of each, in order.
    """
    previous = START
    for place, (text, digest) in enumerate(records):
        if chained(previous, text) != digest:
            return place
        previous = digest
    return None


@dataclass(frozen=True)
class Link:
    """One record of a chain. text: what its digest covers beside the digest before."""

    number: int
    text: str
    digest: str


@dataclass(frozen=True)
class ChainFault:
    """What is wrong at one record; number 0: with the chain as a whole."""

    number: int
    sentence: str


def chain_faults(links: Sequence[Link], *, made: int, digest: str) -> Iterator[ChainFault]:
    """Gaps, and digests that do not follow. made, digest: how many there are, and the last one."""
    if [link.number for link in links] != list(range(1, made + 1)):
        yield ChainFault(0, f"{made} entries were made; {len(links)} are here.")
    place = first_break((link.text, link.digest) for link in links)
    if place is not None:
        yield ChainFault(links[place].number, "Its digest does not follow from the one before.")
    elif digest != (links[-1].digest if links else START):
        yield ChainFault(0, "The digest noted for the whole is not that of the last entry.")


class Renaming:
    """Compares what was recorded with what is there now: equal but for the ids of another service.

    An id of then must stand for the same id now, wherever it is. Several ids of then may stand for
    one: a record that went on after an import has both.
    """

    def __init__(self) -> None:
        self.names: dict[str, str] = {}

    def same(self, then: object, now: object) -> bool:
        if isinstance(then, dict) and isinstance(now, dict):
            return then.keys() == now.keys() and all(
                self.same(then[name], now[name]) for name in sorted(then)
            )
        if isinstance(then, list) and isinstance(now, list):
            return len(then) == len(now) and all(map(self.same, then, now))
        if isinstance(then, str) and isinstance(now, str) and _is_id(then) and _is_id(now):
            return self.names.setdefault(then, now) == now
        return then == now


def _is_id(text: str) -> bool:
    try:
        return len(text) == 36 and bool(uuid.UUID(text))
    except ValueError:
        return False
