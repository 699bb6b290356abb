"""The meaning of every code of a refusal."""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from django.utils.safestring import SafeString

from server.docs.guide import line_html

FILE = Path(__file__).parent / "problems.toml"


@dataclass(frozen=True)
class DocumentedProblem:
    """What a code means and what the client can do, each as one line of HTML.

    status: of the answer; 422 for the codes of fields.
    """

    code: str
    status: int
    means: SafeString
    do: SafeString


@dataclass(frozen=True)
class ProblemCatalogue:
    """Codes of a whole request, and codes of one field in `errors`."""

    whole: tuple[DocumentedProblem, ...]
    fields: tuple[DocumentedProblem, ...]


@cache
def catalogue() -> ProblemCatalogue:
    meaning = tomllib.loads(FILE.read_text())
    whole = [_problem(code, *entry) for code, entry in meaning["whole"].items()]
    fields = [_problem(code, 422, *entry) for code, entry in meaning["fields"].items()]
    return ProblemCatalogue(
        tuple(sorted(whole, key=lambda one: (one.status, one.code))),
        tuple(sorted(fields, key=lambda one: one.code)),
    )


def _problem(code: str, status: int, means: str, do: str) -> DocumentedProblem:
    return DocumentedProblem(code, status, line_html(means), line_html(do))
