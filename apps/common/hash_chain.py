"""A chain of digests over records that are only ever added.

The digest of a record covers its text and the digest of the record before it. So whoever keeps one
digest can later tell whether any record up to it was changed, removed or inserted.
"""

import hashlib
import json
from collections.abc import Iterable, Mapping

# What is in front of the first record.
START = ""


def record_text(facts: Mapping[str, object]) -> str:
    """The facts as JSON with sorted names, without spaces."""
    return json.dumps(facts, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


def chained(previous: str, text: str) -> str:
    """The digest (SHA-256, hex) of a record's text after the digest of the record before it."""
    return hashlib.sha256(f"{previous}\n{text}".encode()).hexdigest()


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
