"""Every page: who may see it, that no injected script runs, and that it stays fast.

The addresses are those of `apps/pages/urls.py`, filled in with ids of a group that has everything.
"""

import re
from urllib.parse import unquote

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import resolve

from tests.pages.browser import Browser, forms_in, inline_in
from tests.pages.conftest import EVIL
from tests.pages.walking import DATA, addresses
from tests.system.operations import Operation, operations, resolved

PARAMETER = re.compile(r"\{\w+\}")
UUID = r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}"
pytestmark = [pytest.mark.django_db, pytest.mark.long]

# Pages that only those in these roles see; everybody of the group sees the others.
NOT_FOR = {
    "visit-new": {"observer"},
    "group-trip-new": {"observer"},
    "club": {"observer"},  # who is not of the club
    "club-trip-new": {"observer"},
    "money": {"observer"},
    "agreement": {"observer"},
}
# What an adviser of the club sees otherwise than the group.
ADVISERS = {"club", "club-trip-new", "second-opinion"}
# Of the reader, not of a group: everybody sees their own.
OWN = {"home", "new-group", "new-list", "me"}
# What a page shows whoever is signed out, in place of the sign-in.
OPEN = {"home"}


def views(walk, browser):
    """Each page as the organiser sees it, and as the adviser who took a request on."""
    for name, at in addresses(walk).items():
        yield name, browser["organiser"].get(at)
        if name in ADVISERS:
            yield f"{name}, to the adviser", browser["adviser"].get(at)


def test_who_sees_which_page(walk, browser, subtests):
    for name, at in addresses(walk).items():
        outsider = 200 if name in OWN else 404
        expected = {
            "organiser": 200,
            "observer": 404 if "observer" in NOT_FOR.get(name, ()) else 200,
            **dict.fromkeys(("stranger", "other_group", "left"), outsider),
        }
        with subtests.test(name):
            assert {who: browser[who].get(at).status_code for who in expected} == expected
            nobody = browser["nobody"].get(at)
            assert nobody.status_code == (200 if name in OPEN else 302)
            if name not in OPEN:
                assert nobody["Location"].startswith("/sign-in?next=")


def test_nothing_of_a_group_is_told_to_others(walk, browser, subtests):
    for name, at in addresses(walk).items():
        for who in ("nobody", "stranger", "other_group", "left"):
            with subtests.test(name, who=who):
                told = browser[who].get(at).content.decode()
                leaks = [w for w in walk.here.words if w in told and w not in at]
                assert leaks == []


def test_nothing_runs_that_is_not_a_file_of_this_service(walk, browser, subtests):
    for name, answer in views(walk, browser):
        with subtests.test(name):
            assert answer.status_code == 200
            page = answer.content.decode()
            if name in DATA:
                assert answer["Content-Type"] == "application/json"
                assert answer["X-Content-Type-Options"] == "nosniff"
            else:
                assert inline_in(page) == []
                assert EVIL not in page, "a text that somebody wrote must be escaped"
            assert "default-src 'self'" in answer["Content-Security-Policy"]
            assert "unsafe" not in answer["Content-Security-Policy"]
            assert "no-store" in answer["Cache-Control"]
            assert answer["X-Frame-Options"] == "DENY"


def test_nor_in_pages_that_are_open_to_all(walk, browser, subtests):
    invitation = walk.here["invitation"]
    for at in (
        "/",
        "/sign-in",
        "/join",
        f"/join/{invitation}",
        "/join/none",
        "/start/none",
        "/new-password/none",
    ):
        with subtests.test(at):
            answer = browser["nobody"].get(at)
            page = answer.content.decode()
            assert inline_in(page) == []
            assert EVIL not in page
            assert ("Ternword" in page) is (at == f"/join/{invitation}")
            assert "default-src 'self'" in answer["Content-Security-Policy"]
            assert "no-store" in answer["Cache-Control"]


def test_a_form_that_no_script_sent_says_so(walk, browser):
    at = addresses(walk)["new-group"]
    ola = browser["organiser"]
    answer = ola.client.post(at, {"name": "Tern"}, headers=ola.form_headers)
    assert answer.status_code == 405
    assert "This was not sent" in answer.content.decode()


def test_a_page_that_is_not_there_has_the_policy_too(walk, browser):
    for at in addresses(walk).values():
        answer = browser["stranger"].get(at)
        assert "default-src 'self'" in answer["Content-Security-Policy"]
        assert "no-store" in answer["Cache-Control"]


def test_only_what_comes_over_a_network_in_the_clear_is_said_to(walk, browser):
    """Browsers keep pages only if they came by TLS or from their own machine."""
    nobody = browser["nobody"]
    for host, secure, said in (
        ("testserver", False, True),
        ("testserver", True, False),
        ("127.0.0.1", False, False),
        ("localhost", False, False),
    ):
        page = nobody.client.get("/", secure=secure, SERVER_NAME=host).content.decode()
        assert ("without encryption" in page) is said, host


def test_each_page_has_a_title_a_heading_and_labels(walk, browser, subtests):
    """WCAG 2.2, success criteria 2.4.2, 1.3.1, 3.1.1 and 3.3.2, as far as text shows them."""
    for name, answer in views(walk, browser):
        if name in DATA:
            continue
        with subtests.test(name):
            page = answer.content.decode()
            assert re.search(r"<title>\S.+ \W Hardstand</title>", page)
            assert len(re.findall(r"<h1[ >]", page)) == 1
            assert '<html lang="en">' in page
            ids = re.findall(r'\bid="([^"]+)"', page)
            assert len(ids) == len(set(ids))
            named = re.findall(r'<(?:input|select|textarea)[^>]*\bid="([^"]+)"', page)
            for field in named:
                assert f'for="{field}"' in page, field


def test_every_link_inside_leads_to_an_address_that_there_is(walk, browser):
    links = set()
    for _, answer in views(walk, browser):
        page = answer.content.decode()
        links |= set(re.findall(r'\b(?:href|action|src)="(/[^"?#]*)', page))
    assert len(links) > 5
    for link in links:
        if not link.startswith("/static/"):
            resolve(unquote(link))


def test_forms_send_what_the_api_takes(walk, browser):
    """To an operation that there is, under names that its body has."""
    checked = 0
    for _, answer in views(walk, browser):
        for method, path, names in forms_in(answer.content.decode()):
            operation = operation_at(method, path)
            checked += len(names)
            for name in names:
                assert is_taken(operation, name), (operation.id, name)
    assert checked > 50


def operation_at(method: str, path: str) -> Operation:
    """The operation at a path with ids and codes filled in."""
    (found,) = [
        operation
        for operation in operations().values()
        if operation.method == method
        and re.fullmatch(PARAMETER.sub(r"[\\w-]+", operation.path), f"/api/v1{path}")
    ]
    return found


def is_taken(operation: Operation, name: str) -> bool:
    """Whether a body has a place of this name; a number is a place in a list."""
    content = operation.spec.get("requestBody", {}).get("content", {})
    if not content:
        return False
    inside = resolved(next(iter(content.values()))["schema"])
    for part in name.split("."):
        inside = inside.get("properties", {}).get(part) or (
            inside.get("items") if part.isdigit() else inside.get("additionalProperties")
        )
        if not inside:
            return False
        # One that may be null has its own form first.
        inside = resolved((inside.get("allOf") or inside.get("oneOf") or [inside])[0])
    return True


def test_asking_twice_costs_the_same(walk, browser, subtests):
    """A page's first visit may note something down; after that the number of queries is steady."""
    for name, at in addresses(walk).items():
        with subtests.test(name):
            queries_of(browser["organiser"], at)
            assert queries_of(browser["organiser"], at) == queries_of(browser["organiser"], at)


def queries_of(browser: Browser, at: str) -> int:
    with CaptureQueriesContext(connection) as captured:
        assert browser.get(at).status_code == 200
    return len(captured)


def test_an_address_that_is_none_is_a_page_to_people_and_a_problem_to_programs(db):
    nobody = Browser()
    page = nobody.get("/nonsense")
    assert page.status_code == 404
    assert "Not here, or not for you" in page.content.decode()
    assert "default-src 'self'" in page["Content-Security-Policy"]
    for path, accept in (("/nonsense", "*/*"), ("/api/v1/nonsense", "text/html")):
        answer = nobody.get(path, Accept=accept)
        assert answer.status_code == 404
        assert answer.json()["code"] == "not_found"
