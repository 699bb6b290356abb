"""Changing a password, and a link for whoever forgot theirs."""

import re
from datetime import timedelta
from io import StringIO

import pytest
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.utils import timezone
from oauth2_provider.models import AccessToken

from apps.accounts import passwords
from apps.accounts.erasing import person_erase
from apps.accounts.models import OneTimeLink, Program
from apps.notifications.models import DigestEmail
from tests.accounts.oauth import PASSWORD, with_password
from tests.conftest import Speaker, pointers
from tests.notifications.conftest import confirmed
from tests.notifications.mails import send
from tests.pages.browser import Browser

AT = "/people/me/password-changes"
NEW = "slack water 5 again"


@pytest.fixture
def email(cast) -> str:
    return with_password(cast.ben)


def change(who: Speaker, **more):
    return who.post(AT, {"present": PASSWORD, "password": NEW, **more})


def sign_in(email: str, password: str) -> Speaker | None:
    opened = Speaker(None).post("/sessions", {"email": email, "password": password})
    return Speaker(None, opened.json()["token"]) if opened.status_code == 201 else None


def is_in(who: Speaker) -> bool:
    return who.get("/people/me").status_code == 200


def script_of(who: Speaker) -> Speaker:
    body = {"name": "Scale", "scopes": None, "expires_at": timezone.now() + timedelta(days=9)}
    return Speaker(who.person, who.post("/tokens", body).json()["token"])


def test_it_works(cast, email):
    elsewhere = sign_in(email, PASSWORD)
    assert change(cast.ben).status_code == 204
    assert is_in(cast.ben), "the sign-in that changed it stays"
    assert not is_in(elsewhere)
    assert sign_in(email, PASSWORD) is None
    assert sign_in(email, NEW)


def test_others_stay_signed_in(cast, email):
    assert change(cast.ben).status_code == 204
    assert is_in(cast.ola)


def test_a_browser_elsewhere_is_out(cast, email):
    here, elsewhere = Browser(cast.ben), Browser(cast.ben)
    body = {"present": PASSWORD, "password": NEW}
    assert here.write("POST", AT, body).status_code == 204
    assert here.get("/me").status_code == 200
    assert elsewhere.get("/me").status_code == 302


def test_tokens_of_scripts_and_programs_end_only_if_asked(cast, email):
    script = script_of(cast.ben)
    program = Program.objects.create(
        name="Gauge",
        authorization_grant_type=Program.GRANT_AUTHORIZATION_CODE,
        client_type=Program.CLIENT_PUBLIC,
    )
    AccessToken.objects.create(
        user=cast.ben.person,
        application=program,
        token="a",
        expires=timezone.now() + timedelta(hours=1),
        scope="lists:read",
    )
    assert change(cast.ben).status_code == 204
    assert is_in(script)
    assert AccessToken.objects.exists()
    again = change(cast.ben, present=NEW, password="ebb and flood 12", end_tokens=True)
    assert again.status_code == 204
    assert not is_in(script)
    assert not AccessToken.objects.exists()
    assert is_in(cast.ben)


def test_a_script_cannot_change_it(cast, email):
    assert change(script_of(cast.ben)).status_code == 403
    assert sign_in(email, PASSWORD)


def test_nobody_who_is_not_signed_in(email):
    assert change(Speaker(None)).status_code == 401


def test_the_present_password_is_needed(cast, email):
    refused = change(cast.ben, present="tidal stream 8")
    assert pointers(refused) == {"/present"}
    assert refused.json()["errors"][0]["code"] == "wrong_password"
    assert pointers(cast.ben.post(AT, {"password": NEW})) == {"/present"}
    assert sign_in(email, PASSWORD)


def test_a_repeat_is_refused_because_the_present_one_is_another(cast, email):
    assert change(cast.ben).status_code == 204
    assert pointers(change(cast.ben)) == {"/present"}
    assert sign_in(email, NEW)


def test_of_two_changes_at_once_the_first_holds(cast, email, monkeypatch):
    """The other's present password is no longer right when it would store the new one."""
    hashing = passwords.make_password

    def meanwhile(password: str) -> str:
        monkeypatch.setattr(passwords, "make_password", hashing)
        assert change(cast.ben, password="ebb and flood 12").status_code == 204
        return hashing(password)

    monkeypatch.setattr(passwords, "make_password", meanwhile)
    assert pointers(change(cast.ben)) == {"/present"}
    assert sign_in(email, "ebb and flood 12")


@pytest.mark.parametrize("weak", ["short", "password123", "ben@example.org"])
def test_a_weak_one_is_refused(cast, email, weak):
    assert pointers(change(cast.ben, password=weak)) == {"/password"}
    assert sign_in(email, PASSWORD)


def test_guesses_are_counted_with_those_at_signing_in(cast, email, settings):
    settings.RATES = {**settings.RATES, "sign_in": (3, 900)}
    cache.clear()
    for _ in range(2):
        sign_in(email, "guess")
    assert change(cast.ben, present="guess").status_code == 422
    assert change(cast.ben).status_code == 429
    cache.clear()


# --- The mail ------------------------------------------------------------------------------------


def test_a_confirmed_address_is_told(cast, email):
    confirmed(cast.ben, rhythm="never", time_zone="Asia/Tokyo")
    change(cast.ben)
    (message,) = send()
    assert message.to == [email]
    assert message.subject == "Hardstand: your password was changed"
    assert "If it was not you" in message.body
    assert "JST" in message.body
    assert "List-Unsubscribe" not in message.extra_headers
    assert NEW not in message.body
    assert send() == []


def test_an_address_that_was_not_confirmed_is_not(cast, email):
    change(cast.ben)
    assert send() == []
    assert not DigestEmail.objects.exists()


def test_whoever_left_before_the_mail_went_gets_none(cast, email):
    confirmed(cast.ben)
    change(cast.ben)
    assert cast.ben.post("/people/me/deletions", {"password": NEW}).status_code == 204
    assert send() == []


# --- The link ------------------------------------------------------------------------------------


def link_for(email: str) -> str:
    out = StringIO()
    call_command("sign_in_link", email, stdout=out)
    return re.search(r"/new-password/\S+", out.getvalue())[0]


def choose(browser: Browser, at: str, password: str = NEW):
    return browser.submit(at, {"password": password})


def test_the_link_sets_another_password_once(cast, email):
    at, browser = link_for(email.upper()), Browser()
    assert "For Ben." in browser.get(at).content.decode()
    assert sign_in(email, PASSWORD), "looking at it changes nothing"
    assert choose(browser, at)["Location"] == "/"
    assert browser.get("/me").status_code == 200
    assert not is_in(cast.ben), "all sign-ins from before have ended"
    assert sign_in(email, NEW)
    assert Browser().get(at).status_code == 404
    late = Browser(cast.ola)
    again = late.client.post(at, {"password": "ebb and flood 12"}, headers=late.form_headers)
    assert again.status_code == 404


def test_a_weak_one_leaves_the_link_as_it_is(cast, email):
    at, browser = link_for(email), Browser()
    refused = choose(browser, at, "short")
    assert refused.status_code == 422
    assert "too short" in refused.content.decode()
    assert choose(browser, at).status_code == 302


def test_a_confirmed_address_is_told_of_the_link_too(cast, email):
    confirmed(cast.ben)
    choose(Browser(), link_for(email))
    (message,) = send()
    assert message.to == [email]


def test_a_newer_link_and_a_change_take_its_place(cast, email):
    first = link_for(email)
    second = link_for(email)
    assert Browser().get(first).status_code == 404
    assert Browser().get(second).status_code == 200
    change(cast.ben)
    assert Browser().get(second).status_code == 404


def test_the_link_ends_after_a_day(cast, email):
    at = link_for(email)
    past = timezone.now() - timedelta(days=2)
    OneTimeLink.objects.update(created_at=past, expires_at=past + timedelta(days=1))
    assert Browser().get(at).status_code == 404


def test_the_link_opens_nothing_else(cast, email, settings):
    settings.DEMO = True
    secret = link_for(email).rpartition("/")[2]
    assert Browser().get(f"/start/{secret}").status_code == 404
    assert secret not in str(OneTimeLink.objects.values_list())


def test_nobody_gets_a_link_who_could_not_sign_in(cast, email):
    with pytest.raises(CommandError, match="Nobody has an account"):
        link_for("eve@example.org")
    at = link_for(email)
    person_erase(person=cast.ben.person)
    assert Browser().get(at).status_code == 404
    with pytest.raises(CommandError):
        link_for(email)


def test_a_program_of_a_group_gets_none(cast, email):
    cast.ben.person.kind = "program"
    cast.ben.person.save()
    with pytest.raises(CommandError):
        link_for(email)
