"""Every code by which the service refuses, in words."""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

FILE = Path(__file__).parent / "problems.toml"


@dataclass(frozen=True)
class Problem:
    """What a code means, and what whoever gets it can do. `status`: 422 for a field's code."""

    code: str
    status: int
    means: str
    do: str


@dataclass(frozen=True)
class Catalogue:
    """`whole` refuses a request as a whole; `fields` stands in `errors`, beside a pointer."""

    whole: tuple[Problem, ...]
    fields: tuple[Problem, ...]


@cache
def catalogue() -> Catalogue:
    said = tomllib.loads(FILE.read_text())
    whole = [Problem(code, *entry) for code, entry in said["whole"].items()]
    fields = [Problem(code, 422, *entry) for code, entry in said["fields"].items()]
    return Catalogue(
        tuple(sorted(whole, key=lambda one: (one.status, one.code))),
        tuple(sorted(fields, key=lambda one: one.code)),
    )
