"""The meaning of every code of a refusal."""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.utils.safestring import SafeString

from server.docs.guide import line_html

FILE = Path(__file__).parent / "problems.toml"


@dataclass(frozen=True)
class Problem:
    """What a code means and what the client can do, each as one line of HTML.

    status: of the answer; 422 for the codes of fields.
    """

    code: str
    status: int
    means: SafeString
    do: SafeString


@dataclass(frozen=True)
class Catalogue:
    """Codes of a whole request, and codes of one field in `errors`."""

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
