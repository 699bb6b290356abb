"""Signing in on the pages, and access by the cookie."""

from datetime import timedelta
from typing import Any

import pytest
from django.contrib.sessions.models import Session
from django.utils import timezone

from apps.accounts.models import Token
from tests.accounts.oauth import PASSWORD, with_password
from tests.pages.browser import Browser


@pytest.fixture
def email(cast) -> str:
    return with_password(cast.ben)


def sign_in(browser: Browser, email: str, **more: Any) -> Any:
    return browser.submit("/sign-in", {"email": email, "password": PASSWORD, **more})


@pytest.fixture
def ben(cast, email) -> Browser:
    browser = Browser()
    assert sign_in(browser, email)["Location"] == "/"
    browser.get("/")
    return browser


def test_signing_in_leads_back_to_where_one_came_from(email):
    browser = Browser()
    answer = sign_in(browser, email, next="/lists/1?a=b")
    assert answer["Location"] == "/lists/1?a=b"
    assert "Hello, Ben" in browser.get("/").content.decode()


def test_nobody_is_sent_to_another_site(email):
    assert sign_in(Browser(), email, next="https://evil.example.org/")["Location"] == "/"


def test_a_wrong_password_says_no_more_than_that(email):
    browser = Browser()
    refused = browser.submit("/sign-in", {"email": email, "password": "wrong"})
    assert refused.status_code == 422
    assert "Email and password do not match." in refused.content.decode()
    assert "wrong" not in refused.content.decode()
    assert browser.write("GET", "/people/me").status_code == 401


def test_guesses_are_counted_with_those_at_the_api(cast, email, limit):
    limit("sign_in", 3)
    for _ in range(2):
        cast.nobody.post("/sessions", {"email": email, "password": "guess"})
    browser = Browser()
    assert browser.submit("/sign-in", {"email": email, "password": "guess"}).status_code == 422
    late = sign_in(browser, email)
    assert late.status_code == 429
    assert int(late["Retry-After"]) > 0


def test_the_cookie_holds_no_secret_and_no_script_reads_it(ben):
    cookie = ben.client.cookies["sessionid"]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"
    (session,) = Session.objects.all()
    token = Token.objects.get(pk=session.get_decoded()["token_id"])
    assert token.digest not in str(session.get_decoded())
    assert cookie["max-age"] > timedelta(days=29).total_seconds()


def test_behind_tls_the_cookies_are_secure(email, settings):
    """As server/settings.py sets it with BEHIND_TLS_PROXY."""
    settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = True
    browser = Browser()
    sign_in(browser, email)
    assert browser.client.cookies["sessionid"]["secure"]
    assert browser.client.cookies["csrftoken"]["secure"]


def test_on_a_shared_device_closing_the_browser_signs_out(email):
    browser = Browser()
    sign_in(browser, email, shared="on")
    assert browser.client.cookies["sessionid"]["max-age"] == ""


def test_a_session_prepared_by_somebody_else_is_not_taken_over(cast, email):
    """Session fixation: https://owasp.org/www-community/attacks/Session_fixation."""
    browser = Browser(cast.hal)
    prepared, token_before = browser.client.cookies["sessionid"].value, browser.csrf
    sign_in(browser, email)
    assert browser.client.cookies["sessionid"].value != prepared
    assert browser.csrf != token_before
    assert not Session.objects.filter(pk=prepared).exists()


# --- What the cookie opens in the API ---------------------------------------------------------


def test_the_cookie_opens_the_api_as_a_sign_in_does(ben, cast):
    assert ben.write("GET", "/people/me").json()["name"] == "Ben"
    sessions = ben.write("GET", "/sessions").json()["results"]
    assert [row["current"] for row in sessions if row["current"]] == [True]
    at = f"/members/{cast.membership(cast.ben).pk}"
    etag = ben.write("GET", at)["ETag"]
    assert ben.write("DELETE", at, If_Match=etag).status_code == 204


RENAME = ("PATCH", "/people/me", {"name": "Other"})


@pytest.mark.parametrize(
    "changed",
    [
        {"X_CSRFToken": ""},
        {"X_CSRFToken": "a" * 32},
        {"Origin": "https://evil.example.org"},
        {"Origin": "null"},
        {"Sec_Fetch_Site": "cross-site"},
        {"Sec_Fetch_Site": "same-site"},
        {"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "navigate"},
    ],
    ids=str,
)
def test_what_another_page_could_have_sent_is_refused(ben, cast, changed):
    refused = ben.write(*RENAME, **changed)
    assert (refused.status_code, refused.json()["code"]) == (403, "csrf_failed")
    cast.ben.person.refresh_from_db()
    assert cast.ben.person.name == "Ben"


def test_another_page_cannot_read_but_may_link_to_what_is_read(ben):
    elsewhere = {"Sec_Fetch_Site": "cross-site", "X_CSRFToken": "", "Origin": ""}
    assert ben.write("GET", "/people/me", **elsewhere).status_code == 403
    followed = ben.write("GET", "/people/me", **elsewhere, Sec_Fetch_Mode="navigate")
    assert followed.status_code == 200


def test_whoever_names_a_token_means_that_one(ben, cast):
    as_hal = {"Authorization": f"Bearer {cast.hal.secret}", "X_CSRFToken": "", "Origin": ""}
    assert ben.write("GET", "/people/me", **as_hal).json()["name"] == "Hal"
    bad = {"Authorization": "Bearer hst_nonsense"}
    assert ben.write("GET", "/people/me", **bad).status_code == 401
    assert ben.write("GET", "/people/me", Authorization="Basic eDp5").status_code == 401


def test_signing_out_ends_the_token_and_the_cookie(ben):
    held = ben.client.cookies["sessionid"].value
    page = ben.client.post("/sign-out", {"csrfmiddlewaretoken": ben.csrf})
    assert page["Location"] == "/"
    ben.client.cookies["sessionid"] = held
    assert ben.write("GET", "/people/me").status_code == 401
    assert "Look at boats together" in ben.get("/").content.decode()


def test_a_form_from_elsewhere_signs_nobody_out(ben):
    refused = ben.client.post("/sign-out", {})
    assert refused.status_code == 403
    assert "This was not sent" in refused.content.decode()
    assert ben.write("GET", "/people/me").status_code == 200


@pytest.mark.parametrize("change", ["revoked_at", "expires_at"])
def test_a_token_that_ended_opens_no_page_and_no_operation(ben, cast, change):
    now = timezone.now()
    days = {"created_at": now - timedelta(days=2), change: now - timedelta(days=1)}
    Token.objects.filter(person=cast.ben.person).update(**days)
    assert ben.write("GET", "/people/me").status_code == 401
    assert "Look at boats together" in ben.get("/").content.decode()


def test_whoever_may_not_sign_in_any_more_is_out(ben, cast):
    cast.ben.person.is_active = False
    cast.ben.person.save()
    assert ben.write("GET", "/people/me").status_code == 401


def test_pages_count_as_requests_to_the_api(ben, limit):
    limit("person", 2)
    assert ben.write("GET", "/people/me").status_code == 200
    assert ben.get("/").status_code == 200
    late = ben.get("/")
    assert late.status_code == 429
    assert int(late["Retry-After"]) > 0
