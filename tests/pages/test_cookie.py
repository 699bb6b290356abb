"""The cookie at every operation of the API: it works like a token, but only from a page.

tests/system/test_conventions.py calls all operations with tokens; here the same calls use a cookie.
"""

from typing import Any

import pytest

from tests.pages.browser import Browser
from tests.system.calls import CALLS
from tests.system.operations import Operation, filled, operations
from tests.system.walk import Walk, changed_since, stored, undone

pytestmark = [pytest.mark.django_db, pytest.mark.long]

# Open to all: a cookie that does not count makes no difference.
FOR_ANYBODY = {"sessions_open"}


def those() -> list[Operation]:
    """Writes that need only what the world has."""
    return [
        o
        for o in operations().values()
        if o.writes and o.id not in FOR_ANYBODY and CALLS[o.id].given is None
    ]


def ask(walk: Walk, browser: Browser, operation: Operation, **headers: str) -> Any:
    call = CALLS[operation.id]
    body = call.body(walk.here) if call.body and not operation.takes_form else None
    path = filled(operation.path, walk.here.named, call.at).removeprefix("/api/v1")
    return browser.write(operation.method, path, body, **headers)


def test_no_write_is_taken_from_another_page(walk, browser, subtests):
    assert len(those()) > 60
    before = stored()
    for operation in those():
        by = CALLS[operation.id].by
        who = browser["organiser" if by == "nobody" else by]
        for how in ({"X_CSRFToken": ""}, {"Origin": "https://evil.example.org"}):
            with subtests.test(operation.id, **how):
                refused = ask(walk, who, operation, If_Match="*", **how)
                assert (refused.status_code, refused.json()["code"]) == (403, "csrf_failed")
    assert changed_since(before) == {}


def test_the_cookie_of_somebody_of_another_group_opens_nothing(walk, browser, subtests):
    for operation in those():
        call = CALLS[operation.id]
        if call.outsider != 404:
            continue
        with subtests.test(operation.id), undone():
            refused = ask(walk, browser["other_group"], operation, If_Match="*")
            assert refused.status_code == 404, refused.content


def test_signed_out_nothing_is_open(walk, browser, subtests):
    nobody = browser["nobody"]
    nobody.get("/")
    for operation in those():
        with subtests.test(operation.id), undone():
            answer = ask(walk, nobody, operation, If_Match="*")
            assert answer.status_code == CALLS[operation.id].nobody, answer.content
