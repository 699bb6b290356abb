"""The page of refusals has all codes, and no unused ones."""

from collections.abc import Iterable

import pytest
from django.test import Client

from server.docs.problems import DocumentedProblem, catalogue
from tests.docs import codes

# What refuses a request as a whole; everything else is said of a field.
WHOLE = frozenset(
    {
        *("AuthenticationFailed", "PermissionDenied", "Conflict", "Gone"),
        *("ProblemResponse", "_page", "_refusal", "later"),
    }
)


@pytest.fixture(scope="module")
def in_source() -> dict[str, set[str]]:
    return codes.codes_in_source()


def agree(told: Iterable[DocumentedProblem], answered: set[str]) -> None:
    codes_told = {one.code for one in told}
    assert not answered - codes_told, "tell of these in server/docs/problems.toml"
    assert not codes_told - answered, "nothing answers these any more: server/docs/problems.toml"


def test_what_refuses_is_found(in_source):
    """The search itself works: what is known to be written in the source is among its finds."""
    carriers = {name for names in in_source.values() for name in names}
    assert carriers >= WHOLE | {
        "FieldFault",
        "at",
        "CellFault",
        "ErrorDetail",
        "fail",
        "TargetRefused",
    }
    assert in_source["stale"] == {"ProblemResponse"}
    assert "FieldFault" in in_source["sum_not_1"]
    assert "longer_than_loa" in in_source


def test_every_refusal_is_told(in_source):
    answered = {code for code, names in in_source.items() if names & WHOLE}
    answered |= codes.codes_of_requests()
    agree(catalogue().whole, answered)


def test_every_fault_of_a_field_is_told(in_source):
    answered = {code for code, names in in_source.items() if names - WHOLE}
    answered |= codes.codes_of_fields()
    agree(catalogue().fields, answered)


def test_every_refusal_says_what_it_means():
    told = catalogue()
    for one in (*told.whole, *told.fields):
        assert one.means.endswith((".", "/")), one
        assert 400 <= one.status < 600


def test_the_type_of_a_problem_is_a_place_on_the_page(db):
    page = Client().get("/docs/problems").content.decode()
    for one in catalogue().whole:
        assert f'id="{one.code}"' in page
    refusal = Client().get("/api/v1/groups").json()
    path, _, anchor = refusal["type"].partition("#")
    assert path == "/docs/problems"
    assert f'id="{anchor}"' in page
