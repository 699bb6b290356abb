"""The settings of a list, of its people and of one's own account."""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.accounts.models import Token
from apps.archives.models import Export
from apps.groups.models import Membership
from apps.pages.lists.lists import CURRENCIES
from tests.conftest import speakers
from tests.pages.browser import Browser
from tests.pages.test_every_page import queries_of

# --- A list ---------------------------------------------------------------------------------------


def test_only_its_organiser_is_offered_to_change_a_list(scene):
    at = f"/lists/{scene.list.pk}/settings"
    for who, may in ((scene.cast.ola, True), (scene.cast.ben, False), (scene.cast.ivy, False)):
        page = Browser(who).get(at).content.decode()
        assert (f'data-api="PATCH /lists/{scene.list.pk}"' in page) is may
        assert ("/invitations" in page) is may
        assert "Leave the group" in page
        assert "40000.00" in page


def test_a_missing_exchange_rate_is_asked_for_in_words(scene):
    """The list is in euro, the catalogue's figures in dollars."""
    at, ola = f"/lists/{scene.list.pk}/settings", Browser(scene.cast.ola)
    page = ola.get(at).content.decode()
    assert "No boat on this list can be priced" in page
    assert "What is 1 USD in the list's currency?" in page
    sent = {"brief": {"exchange_rates": {"USD": "0.9"}}}
    answer = ola.write("PATCH", f"/lists/{scene.list.pk}", sent, If_Match=scene.list.etag)
    assert answer.status_code == 200, answer.content
    page = ola.get(at).content.decode()
    assert "No boat on this list can be priced" not in page
    assert 'value="0.9' in page
    assert 'name="brief.exchange_rates.GBP"' not in page
    assert 'name="brief.exchange_rates.GBP"' in ola.get(f"{at}?rate=GBP").content.decode()
    assert "NONSENSE" not in ola.get(f"{at}?rate=NONSENSE").content.decode()


def test_shares_are_shown_in_per_cent(scene):
    page = Browser(scene.cast.ola).get(f"/lists/{scene.list.pk}/settings").content.decode()
    assert page.count('value="33.3333"') == 3
    assert 'data-type="percent"' in page


def test_a_member_gets_another_role(scene):
    ola, hal = Browser(scene.cast.ola), scene.cast.membership(scene.cast.hal)
    page = ola.get(f"/lists/{scene.list.pk}/settings").content.decode()
    form = f'data-api="PUT /members/{hal.pk}" data-etag="{hal.etag.replace(chr(34), "&quot;")}"'
    assert form in page
    body = {"role": "buyer", "buys": True}
    assert ola.write("PUT", f"/members/{hal.pk}", body, If_Match=hal.etag).status_code == 200


def test_links_for_others_do_not_begin_with_this_computer(scene, settings):
    at, ola = f"/lists/{scene.list.pk}/settings", Browser(scene.cast.ola)
    ola.client.defaults["SERVER_NAME"] = "127.0.0.1"
    page = ola.get(at).content.decode()
    assert "works on this computer only" in page
    assert 'data-begins="http://127.0.0.1"' in page, "the address at which it was asked"
    settings.PUBLIC_URL = "http://192.168.1.7:8000"
    page = ola.get(at).content.decode()
    assert "works on this computer only" not in page
    assert 'data-begins="http://192.168.1.7:8000"' in page


def test_open_invitations_can_be_withdrawn_and_never_show_their_link(scene):
    ola = Browser(scene.cast.ola)
    body = {"role": "helper", "note": "for Zoe"}
    made = ola.write("POST", f"/groups/{scene.cast.group.pk}/invitations", body)
    page = ola.get(f"/lists/{scene.list.pk}/settings").content.decode()
    assert "for Zoe" in page
    assert f'data-api="DELETE /invitations/{made.json()["id"]}" data-etag="' in page
    assert made.json()["token"] not in page


def test_whoever_organises_nothing_is_told_what_to_do(cast):
    page = Browser(cast.ben).get("/lists/new").content.decode()
    assert "Ask the organiser of yours" in page
    assert "data-api" not in page
    of_ola = Browser(cast.ola).get("/lists/new").content.decode()
    assert f'data-api="POST /groups/{cast.group.pk}/lists"' in of_ola
    foreign = Browser(cast.ola).get(f"/lists/new?group={cast.other_group.pk}").content.decode()
    assert str(cast.other_group.pk) not in foreign


def test_more_people_cost_no_more_queries(scene):
    at, ola = f"/lists/{scene.list.pk}/settings", Browser(scene.cast.ola)
    few = queries_of(ola, at)
    for more in speakers("Una", "Udo", "Uri"):
        Membership.objects.create(group=scene.cast.group, person=more.person, role="buyer")
    assert queries_of(ola, at) == few


# --- One's own account ----------------------------------------------------------------------------


def test_sign_ins_are_listed_and_all_can_be_ended(cast):
    here, there = Browser(cast.ben), Browser(cast.ben)
    page = here.get("/me").content.decode()
    others = Token.objects.filter(person=cast.ben.person)
    assert page.count('data-api="DELETE /sessions/') == others.count() == 3
    assert page.count("Sign out there") == 2
    fields = {"everywhere": "yes", "csrfmiddlewaretoken": here.csrf}
    assert here.client.post("/sign-out", fields)["Location"] == "/"
    for browser in (here, there):
        assert browser.write("GET", "/people/me").status_code == 401
    assert cast.ben.get("/people/me").status_code == 401, "the sign-in by the API too"


def test_signing_out_here_leaves_the_other_sign_ins(cast):
    here, there = Browser(cast.ben), Browser(cast.ben)
    here.client.post("/sign-out", {"csrfmiddlewaretoken": here.csrf})
    assert there.write("GET", "/people/me").status_code == 200


@pytest.mark.parametrize("state", ["waiting", "ready"])
def test_my_data_can_be_fetched_once_it_is_ready(cast, state):
    ready = {"digest": "0" * 64, "size_bytes": 9, "expires_at": timezone.now() + timedelta(days=1)}
    Export.objects.create(
        asked_by=cast.ben.person, state=state, **(ready if state == "ready" else {})
    )
    page = Browser(cast.ben).get("/me").content.decode()
    assert ("/archives/exports/" in page) is (state == "ready")
    assert "/archives/exports/" not in Browser(cast.bea).get("/me").content.decode()


def test_times_are_shown_on_the_readers_clock(cast):
    ben = Browser(cast.ben)
    etag = ben.write("GET", "/notification-settings")["ETag"]
    zone = {"time_zone": "Asia/Tokyo"}
    assert ben.write("PATCH", "/notification-settings", zone, If_Match=etag).status_code == 200
    made = Token.objects.filter(person=cast.ben.person).latest("created_at").created_at
    shown = (made + timedelta(hours=9)).strftime("%H:%M")
    assert f", {shown}" in ben.get("/me").content.decode()


def test_the_currencies_offered_are_those_that_circulate():
    """ISO 4217 list one: X codes but those of monetary unions are no money, nor are fund codes."""
    offered = {code for code, _ in CURRENCIES}
    assert {"EUR", "USD", "GBP", "XAF", "XPF"} <= offered
    assert not {"XAU", "XTS", "XXX", "CHE", "USN", "UYW"} & offered
