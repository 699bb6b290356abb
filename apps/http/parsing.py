"""Parses JSON bodies, and refuses content that could not be stored as sent."""

import json
import re
from collections.abc import Iterator, Mapping
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser

from apps.common.errors import FieldFault, Invalid
from apps.http.problems import escape

# A submission in a batch is seven deep; much deeper nesting would overflow the stack of later
# readers.
DEEPEST = 32
UNKEEPABLE = re.compile("[\0\ud800-\udfff]")


class BodyParser(JSONParser):
    """JSON that all programs read alike (I-JSON, RFC 7493 section 2): UTF-8, each name once in an
    object, no lone surrogates; and no NUL, which PostgreSQL cannot store in JSON."""

    def parse(
        self,
        stream: IO[bytes],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        try:
            body = json.loads(
                stream.read().decode(),
                parse_constant=_refuse_constant,
                object_pairs_hook=_each_name_once,
            )
        except (ValueError, RecursionError) as error:
            raise ParseError(f"This is not JSON: {error}.") from error
        faults = [
            FieldFault(pointer, "unkeepable_character", "NUL and lone surrogates cannot be kept.")
            for pointer in unkeepable(body)
        ]
        if faults:
            raise Invalid(faults)
        return body


def _refuse_constant(name: str) -> None:
    raise ValueError(f"{name} is no JSON number")


def _each_name_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"{twice!r} is in one object twice")
    return found


def unkeepable(body: Any, pointer: str = "", depth: int = 0) -> Iterator[str]:
    """JSON pointers to every text that cannot be stored; for a field's name, to its object."""
    if depth > DEEPEST:
        raise ParseError(f"This is nested more than {DEEPEST} deep.")
    if isinstance(body, str) and UNKEEPABLE.search(body):
        yield pointer
    elif isinstance(body, dict):
        for name, inner in body.items():
            if UNKEEPABLE.search(name):
                yield pointer
            else:
                yield from unkeepable(inner, f"{pointer}/{escape(name)}", depth + 1)
    elif isinstance(body, list):
        for index, inner in enumerate(body):
            yield from unkeepable(inner, f"{pointer}/{index}", depth + 1)
