"""Signing in and out."""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.accounts.erasing import person_erase
from apps.accounts.models import Person, Token
from tests.conftest import Speaker, pointers

pytestmark = pytest.mark.django_db

GOOD = {"email": "ada@example.org", "password": "tidal stream 9"}


@pytest.fixture
def ada() -> Person:
    return Person.objects.create_user(GOOD["email"], GOOD["password"], name="Ada")


def test_it_works(ada):
    opened = Speaker(None).post("/sessions", GOOD)
    assert opened.status_code == 201
    me = Speaker(ada, opened.json()["token"]).get("/people/me")
    assert me.json()["name"] == "Ada"
    assert not Token.objects.filter(digest=opened.json()["token"]).exists()


def test_sign_out_closes(ada):
    opened = Speaker(None).post("/sessions", GOOD).json()
    signed_in = Speaker(ada, opened["token"])
    assert signed_in.delete(f"/sessions/{opened['id']}").status_code == 204
    assert signed_in.get("/people/me").status_code == 401


def test_expired_token_opens_nothing(ada):
    opened = Speaker(None).post("/sessions", GOOD).json()
    past = timezone.now() - timedelta(days=9)
    Token.objects.update(created_at=past, expires_at=past + timedelta(days=1))
    assert Speaker(ada, opened["token"]).get("/people/me").status_code == 401


def test_inactive_person_is_out(ada):
    opened = Speaker(None).post("/sessions", GOOD).json()
    Person.objects.update(is_active=False)
    assert Speaker(ada, opened["token"]).get("/people/me").status_code == 401
    assert Speaker(None).post("/sessions", GOOD).status_code == 422


@pytest.mark.parametrize("wrong", [{"email": "eve@example.org"}, {"password": "tidal stream 8"}])
def test_wrong_email_and_wrong_password_sound_alike(ada, wrong):
    refused = Speaker(None).post("/sessions", GOOD | wrong)
    assert refused.json()["errors"][0]["code"] == "bad_credentials"


def test_missing_fields_are_named():
    assert pointers(Speaker(None).post("/sessions", {})) == {"/email", "/password"}


def test_a_bad_token_is_refused_even_where_none_is_needed(ada):
    assert Speaker(ada, "hst_nonsense").post("/sessions", GOOD).status_code == 401


def test_others_sessions_cannot_be_closed(ada, cast):
    opened = Speaker(None).post("/sessions", GOOD).json()
    assert cast.ben.delete(f"/sessions/{opened['id']}").status_code == 404


def test_rename_with_version(ada):
    opened = Speaker(None).post("/sessions", GOOD).json()
    signed_in = Speaker(ada, opened["token"])
    seen = signed_in.get("/people/me")["ETag"]
    assert signed_in.patch("/people/me", {"name": "Ada B"}, If_Match=seen).status_code == 200
    assert signed_in.patch("/people/me", {"name": "Ada C"}, If_Match=seen).status_code == 412


def test_units_and_currency_are_ones_own_choice(ada):
    opened = Speaker(None).post("/sessions", GOOD).json()
    signed_in = Speaker(ada, opened["token"])
    me = signed_in.get("/people/me").json()
    assert (me["units"], me["currency"]) == ("si", None)
    chosen = {"units": "imperial", "currency": "NOK"}
    me = signed_in.change("PATCH", "/people/me", chosen).json()
    assert (me["name"], me["units"], me["currency"]) == ("Ada", "imperial", "NOK")
    me = signed_in.change("PATCH", "/people/me", {"currency": None}).json()
    assert (me["units"], me["currency"]) == ("imperial", None)
    refused = signed_in.change("PATCH", "/people/me", {"units": "fathoms", "currency": "ABC"})
    assert pointers(refused) == {"/units", "/currency"}


def test_what_one_chose_is_gone_with_the_account(ada):
    Person.objects.update(units="imperial", currency="NOK")
    ada.refresh_from_db()
    person_erase(person=ada)
    ada.refresh_from_db()
    assert (ada.units, ada.currency) == ("si", "")
