"""Every code by which the service refuses, in words."""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.utils.safestring import SafeString

from server.docs.guide import line_html

FILE = Path(__file__).parent / "problems.toml"


@dataclass(frozen=True)
class Problem:
    """What a code means, and what whoever gets it can do, as HTML of one line each.

    status: of the answer; 422 for the code of a field.
    """

    code: str
    status: int
    means: SafeString
    do: SafeString


@dataclass(frozen=True)
class Catalogue:
    """`whole` refuses a request as a whole; `fields` stands in `errors`, beside a pointer."""

    whole: tuple[Problem, ...]
    fields: tuple[Problem, ...]


@cache
def catalogue() -> Catalogue:
    meaning = tomllib.loads(FILE.read_text())
    whole = [_problem(code, *entry) for code, entry in meaning["whole"].items()]
    fields = [_problem(code, 422, *entry) for code, entry in meaning["fields"].items()]
    return Catalogue(
        tuple(sorted(whole, key=lambda one: (one.status, one.code))),
        tuple(sorted(fields, key=lambda one: one.code)),
    )


def _problem(code: str, status: int, means: str, do: str) -> Problem:
    return Problem(code, status, line_html(means), line_html(do))
