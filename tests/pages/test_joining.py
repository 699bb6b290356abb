"""The first evening: a service without people, its first person, and those who are invited."""

import io
import re
from datetime import timedelta
from xml.etree import ElementTree

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from apps.accounts.models import OneTimeLink, Person
from apps.accounts.one_time_links import first_link_make
from apps.groups.models import Invitation, Membership
from tests.pages.browser import Browser

ADA = {"name": "Ada", "email": "ada@example.org", "password": "tidal stream 9"}


@pytest.fixture
def start(db) -> str:
    return f"/start/{first_link_make()}"


def test_the_first_link_makes_the_first_person_who_is_signed_in(start):
    browser = Browser()
    assert "You are the first here" in browser.get(start).content.decode()
    made = browser.submit(start, ADA)
    assert made["Location"] == "/groups/new?first=1"
    person = Person.objects.get()
    assert (person.name, person.is_staff) == ("Ada", True)
    assert browser.write("GET", "/people/me").json()["email"] == "ada@example.org"


def test_times_are_shown_on_the_clock_of_the_device(start):
    browser = Browser()
    browser.submit(start, {**ADA, "time_zone": "Asia/Tokyo"})
    assert browser.write("GET", "/notification-settings").json()["time_zone"] == "Asia/Tokyo"


def test_a_clock_that_nobody_knows_is_left_out(start):
    browser = Browser()
    assert browser.submit(start, {**ADA, "time_zone": "Moon/Base"}).status_code == 302
    assert browser.write("GET", "/notification-settings").json()["time_zone"] == "UTC"


def test_it_works_once_and_only_where_nobody_is(start):
    Browser().submit(start, ADA)
    late = Browser()
    assert late.get(start).status_code == 404
    late.get("/sign-in")
    again = late.client.post(start, {**ADA, "email": "eve@example.org"}, headers=late.form_headers)
    assert again.status_code == 404
    assert Person.objects.count() == 1
    assert first_link_make() is None


def test_a_newer_link_takes_the_place_of_the_one_before(start):
    newer = f"/start/{first_link_make()}"
    assert Browser().get(start).status_code == 404
    assert Browser().get(newer).status_code == 200


def test_a_link_ends_after_a_day(start):
    day = timedelta(days=1)
    now = timezone.now()
    OneTimeLink.objects.update(created_at=now - 2 * day, expires_at=now - day)
    assert Browser().get(start).status_code == 404


def test_only_its_digest_is_kept(start):
    (row,) = OneTimeLink.objects.values_list()
    assert start.removeprefix("/start/") not in str(row)


def test_what_cannot_be_taken_is_said_beside_the_field(start):
    browser = Browser()
    refused = browser.submit(start, {**ADA, "password": "seven77"})
    page = refused.content.decode()
    assert refused.status_code == 422
    assert re.search(r'id="field-password"[^>]*aria-invalid="true"', page)
    assert re.search(r'id="error-password">[^<]*at least 10 characters', page)
    assert 'value="Ada"' in page
    assert "seven77" not in page
    assert browser.submit(start, ADA).status_code == 302, "the link still works"


def test_the_whole_first_evening_goes_through_the_api(start, settings):
    """What the forms of the pages send, up to the invitation that a second person accepts."""
    ada = Browser()
    ada.submit(start, ADA)
    ada.get("/groups/new?first=1")
    group = ada.write("POST", "/groups", {"name": "Tern"}).json()["id"]
    assert "What you look for" in ada.get(f"/lists/new?group={group}").content.decode()
    brief = {"currency": "EUR", "budget": {"amount": "40000", "currency": "EUR"}}
    made = ada.write("POST", f"/groups/{group}/lists", {"name": "Spring", "brief": brief})
    at = f"/lists/{made.json()['id']}/settings"
    page = ada.get(f"{at}?first=1").content.decode()
    assert f'data-api="POST /groups/{group}/invitations"' in page
    invited = ada.write("POST", f"/groups/{group}/invitations", {"role": "buyer", "note": "Ben"})
    join = f"/join/{invited.json()['token']}"
    ben = Browser()
    page = ben.get(join).content.decode()
    assert "Ada invites you" in page
    assert "Tern" in page
    joined = ben.submit(join, {**ADA, "name": "Ben", "email": "ben@example.org"})
    assert joined["Location"] == "/"
    assert "Spring" in ben.get("/").content.decode()
    assert ben.get(at).status_code == 200
    assert Browser().get(join).status_code == 404, "it works once"


# --- Invitations --------------------------------------------------------------------------------


@pytest.fixture
def token(cast) -> str:
    body = {"role": "helper", "note": "<b>Zoe</b>"}
    return cast.ola.post(f"/groups/{cast.group.id}/invitations", body).json()["token"]


def test_whoever_is_signed_in_joins_through_the_api(cast, token):
    sten = Browser(cast.sten)
    page = sten.get(f"/join/{token}").content.decode()
    assert 'data-api="POST /acceptances"' in page
    assert "Join as Sten" in page
    assert "Make my account" not in page
    assert sten.write("POST", "/acceptances", {"token": token}).status_code == 201
    assert Membership.objects.get(person=cast.sten.person).role == "helper"


def test_an_email_in_use_is_refused_and_the_invitation_stays(cast, token):
    refused = Browser().submit(f"/join/{token}", {**ADA, "email": "ben@example.org"})
    assert refused.status_code == 422
    assert "There is an account with this email." in refused.content.decode()
    assert Invitation.objects.get().used_at is None


def test_an_invitation_that_cannot_be_used_says_what_to_do(cast, token):
    Invitation.objects.update(withdrawn_at=timezone.now())
    for path in (f"/join/{token}", "/join/nonsense"):
        answer = Browser().get(path)
        assert answer.status_code == 404
        assert "Ask\n  whoever sent it for another one" in answer.content.decode()


@pytest.mark.parametrize("given", ["https://boats.example.org/join/{}", "{}", " /join/{}/ "])
def test_a_pasted_link_leads_there(cast, token, given):
    answer = Browser().submit("/join", {"link": given.format(token)})
    assert answer["Location"] == f"/join/{token}"


def test_what_is_no_link_is_refused_by_a_sentence(db):
    assert Browser().submit("/join", {"link": ""}).status_code == 422
    nothing = Browser().submit("/join", {"link": "/"})
    answer = Browser().get(nothing["Location"])
    assert "This invitation cannot be used" in answer.content.decode()
    assert Browser().get(f"/join/{'x' * 5000}/qr.svg").status_code == 404


def test_the_code_is_a_picture_of_the_link(db):
    answer = Browser().get("/join/hsi_abc/qr.svg")
    assert answer["Content-Type"] == "image/svg+xml"
    assert ElementTree.fromstring(answer.content).tag.endswith("svg")
    other = Browser().get("/join/hsi_abd/qr.svg")
    assert answer.content != other.content


def test_too_many_tries_from_one_address_have_to_wait(cast, token, limit):
    limit("address", 2)
    browser = Browser()
    answers = [browser.get("/join/nonsense").status_code for _ in range(3)]
    assert answers == [404, 404, 429]


# --- The demo -----------------------------------------------------------------------------------


def demo_links() -> str:
    out = io.StringIO()
    call_command("demo_links", stdout=out)
    return out.getvalue()


def test_outside_of_the_demo_nobody_is_signed_in_by_a_link(cast, settings):
    with pytest.raises(CommandError, match="Only the demo"):
        demo_links()
    settings.DEMO = True
    path = re.search(r'"Ben": "([^"]+)"', demo_links())[1]
    settings.DEMO = False
    browser = Browser()
    assert browser.get(path).status_code == 404


def test_in_the_demo_each_link_signs_in_once(cast, settings):
    settings.DEMO = True
    path = re.search(r'"Ben": "([^"]+)"', demo_links())[1]
    browser = Browser()
    assert "Go in as Ben" in browser.get(path).content.decode()
    assert browser.write("GET", "/people/me").status_code == 401, "looking at it is not enough"
    assert browser.submit(path, {})["Location"] == "/"
    assert browser.write("GET", "/people/me").json()["name"] == "Ben"
    assert Browser().get(path).status_code == 404
