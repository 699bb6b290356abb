"""Prices from the trade for remedies on a candidate."""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.catalogue.services import catalogue_load
from apps.events.models import Event
from apps.purchase.models import Quote
from tests.conftest import pointers
from tests.groups.test_programs import add, speaking


def quote(scene, who=None, **changed):
    body = {
        "remedy": "reseal",
        "price": {"amount": "1450.00", "currency": "EUR"},
        "firmness": "fixed",
        "includes_enabling": True,
        "from_whom": "the yard by the ferry",
        "scope": "Rake out, reseal, paint.",
        "dated_on": "2025-03-20",
        "valid_until": "2025-06-30",
        **changed,
    }
    return (who or scene.cast.ben).post(f"/candidates/{scene.heron.id}/quotes", body)


@pytest.fixture
def at(scene):
    return f"/quotes/{quote(scene).json()['id']}"


def test_it_works(scene):
    before = scene.revision()
    made = quote(scene)
    assert made.status_code == 201, made.content
    said = made.json()
    assert said["price"] == {"amount": "1450.00", "currency": "EUR"}
    assert (said["remedy"], said["firmness"], said["includes_enabling"]) == (
        "reseal",
        "fixed",
        True,
    )
    assert (said["added_by"]["name"], said["withdrawn_at"]) == ("Ben", None)
    read = scene.cast.ivy.get(f"/quotes/{said['id']}")
    assert read.json() == said
    assert read["ETag"] == made["ETag"]
    assert scene.revision() == before + 1
    event = Event.objects.latest("number")
    assert (event.kind, str(event.thing_id)) == ("quote.added", said["id"])


def test_it_is_withdrawn_and_stays_on_record(scene, at):
    before = scene.revision()
    assert scene.cast.bea.change("DELETE", at).status_code == 204
    assert scene.revision() == before + 1
    assert scene.cast.ivy.get(at).json()["withdrawn_at"]
    again = scene.cast.ben.change("DELETE", at)
    assert (again.status_code, again.json()["code"]) == (409, "withdrawn")
    listing = f"/candidates/{scene.heron.id}/quotes"
    assert len(scene.cast.ivy.get(listing).json()["results"]) == 1
    assert scene.cast.ivy.get(f"{listing}?live=true").json()["results"] == []
    assert Event.objects.latest("number").kind == "quote.withdrawn"


def test_it_does_not_exist_for_strangers(scene, at):
    for stranger in (scene.cast.sten, scene.cast.wim):
        assert quote(scene, stranger).status_code == 404
        assert stranger.get(at).status_code == 404
        assert stranger.get(f"/candidates/{scene.heron.id}/quotes").status_code == 404
        assert stranger.delete(at).status_code == 404
    assert scene.cast.nobody.get(at).status_code == 401


def test_observer_and_helper_may_not_quote(scene, at):
    for who in (scene.cast.ivy, scene.cast.hal):
        refused = quote(scene, who)
        assert (refused.status_code, refused.json()["roles"]) == (403, ["buyer", "organiser"])
        assert who.change("DELETE", at).status_code == 403


def test_stale_and_missing_versions(scene, at):
    seen = scene.cast.ben.get(at)["ETag"]
    Quote.objects.get().save_changes(fields=[])
    assert scene.cast.ben.delete(at, If_Match=seen).status_code == 412
    assert scene.cast.ben.delete(at).status_code == 428
    assert Quote.objects.get().withdrawn_at is None


def test_a_repeat_is_answered_once(scene, fresh_id):
    body = {
        "id": str(fresh_id),
        "remedy": "reseal",
        "price": {"amount": "900.00", "currency": "USD"},
        "firmness": "estimate",
        "from_whom": "a shipwright",
        "dated_on": "2025-03-20",
    }
    listing = f"/candidates/{scene.heron.id}/quotes"
    first = scene.cast.ben.post(listing, body, Idempotency_Key="k")
    again = scene.cast.ben.post(listing, body, Idempotency_Key="k")
    assert first.status_code == 201, first.content
    assert again.json() == first.json()
    assert scene.cast.ben.post(listing, body).status_code == 409
    assert Quote.objects.count() == 1


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"remedy": "wish"}, "/remedy"),
        ({"price": {"amount": "-1", "currency": "EUR"}}, "/price/amount"),
        ({"price": {"amount": "1", "currency": "XYZ"}}, "/price/currency"),
        ({"price": {"amount": "1", "currency": "SEK"}}, "/price/currency"),
        ({"price": 900}, "/price"),
        ({"firmness": "soft"}, "/firmness"),
        ({"from_whom": ""}, "/from_whom"),
        ({"dated_on": "yesterday"}, "/dated_on"),
        ({"valid_until": "2025-03-19"}, "/valid_until"),
        ({"vat": "20"}, "/vat"),
    ],
)
def test_bad_fields_are_named(scene, changed, pointer):
    assert pointers(quote(scene, **changed)) == {pointer}
    assert not Quote.objects.exists()


def test_everything_wrong_is_told_at_once(scene):
    refused = quote(
        scene,
        remedy="wish",
        price={"amount": "1.00", "currency": "SEK"},
        dated_on=timezone.now().date() + timedelta(days=2),
        valid_until="2025-01-01",
    )
    assert pointers(refused) == {"/remedy", "/price/currency", "/dated_on", "/valid_until"}


def test_no_quote_for_what_left_the_catalogue(scene):
    for name in ("checkpoints/sails.toml", "remedies.toml"):
        scene.catalogue.change(name, 'code = "new-main"', 'code = "renew-main"')
    assert quote(scene, remedy="new-main").status_code == 201
    catalogue_load(folder=scene.catalogue.folder)
    refused = quote(scene, remedy="new-main")
    assert pointers(refused) == {"/remedy"}
    assert refused.json()["errors"][0]["code"] == "retired"


def test_constant_queries(scene, at, django_assert_num_queries):
    listing = f"/candidates/{scene.heron.id}/quotes"
    scene.cast.ivy.get(listing)  # a token's first use is noted
    # token, candidate, page
    with django_assert_num_queries(3):
        assert len(scene.cast.ivy.get(listing).json()["results"]) == 1
    for _ in range(6):
        quote(scene)
    with django_assert_num_queries(3):
        assert len(scene.cast.ivy.get(listing).json()["results"]) == 7


def test_it_says_with_what_it_was_sent(scene):
    assert quote(scene).json()["client"] == {"kind": "session", "id": None, "name": ""}
    yard = add(scene.cast, name="Yard office", role="buyer", scopes=["quotes:write"]).json()
    posted = quote(scene, speaking(yard)).json()
    assert posted["added_by"]["name"] == "Yard office"
    expected = {"kind": "group_program", "id": yard["program"], "name": "Yard office"}
    assert posted["client"] == expected
