"""Bills of remedies."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from apps.events.models import Event
from apps.purchase.facts import bills_on
from apps.purchase.models import Bill
from tests.conftest import pointers


def bill(scene, who=None, **changed):
    body = {
        "remedy": "reseal",
        "paid": {"amount": "2150.00", "currency": "EUR"},
        "done_by": "professional",
        "includes_enabling": True,
        "document": "Invoice 212",
        "dated_on": "2025-04-20",
        "note": "The lift is in it.",
        **changed,
    }
    return (who or scene.cast.ben).post(f"/candidates/{scene.heron.id}/bills", body)


@pytest.fixture
def at(scene):
    return f"/bills/{bill(scene).json()['id']}"


def test_it_works(scene):
    before = scene.revision()
    made = bill(scene)
    assert made.status_code == 201, made.content
    said = made.json()
    assert said["paid"] == {"amount": "2150.00", "currency": "EUR"}
    assert (said["remedy"], said["done_by"], said["includes_enabling"]) == (
        "reseal",
        "professional",
        True,
    )
    assert (said["added_by"]["name"], said["withdrawn_at"]) == ("Ben", None)
    read = scene.cast.ivy.get(f"/bills/{said['id']}")
    assert read.json() == said
    assert read["ETag"] == made["ETag"]
    assert scene.revision() == before  # no result rests on it
    event = Event.objects.latest("number")
    assert (event.kind, str(event.thing_id)) == ("bill.added", said["id"])


def test_it_is_put_right(scene, at):
    put = {"paid": {"amount": "1900.00", "currency": "USD"}, "done_by": "own"}
    changed = scene.cast.bea.change("PATCH", at, put)
    assert changed.status_code == 200, changed.content
    said = changed.json()
    assert (said["paid"], said["done_by"]) == (put["paid"], "own")
    assert (said["document"], said["includes_enabling"], said["version"]) == (
        "Invoice 212",
        True,
        2,
    )
    assert Event.objects.latest("number").kind == "bill.changed"


def test_it_is_withdrawn_and_stays_on_record(scene, at):
    assert scene.cast.bea.change("DELETE", at).status_code == 204
    assert scene.cast.ivy.get(at).json()["withdrawn_at"]
    for method, body in (("DELETE", None), ("PATCH", {"note": "Late"})):
        again = scene.cast.ben.change(method, at, body)
        assert (again.status_code, again.json()["code"]) == (409, "withdrawn")
    listing = f"/candidates/{scene.heron.id}/bills"
    assert len(scene.cast.ivy.get(listing).json()["results"]) == 1
    assert scene.cast.ivy.get(f"{listing}?live=true").json()["results"] == []
    assert Event.objects.latest("number").kind == "bill.withdrawn"


def test_it_does_not_exist_for_strangers(scene, at):
    for stranger in (scene.cast.sten, scene.cast.wim):
        assert bill(scene, stranger).status_code == 404
        assert stranger.get(at).status_code == 404
        assert stranger.get(f"/candidates/{scene.heron.id}/bills").status_code == 404
        assert stranger.patch(at, {"note": "Mine"}, If_Match="*").status_code == 404
        assert stranger.delete(at).status_code == 404
    assert scene.cast.nobody.get(at).status_code == 401


def test_observer_and_helper_may_not_write(scene, at):
    for who in (scene.cast.ivy, scene.cast.hal):
        refused = bill(scene, who)
        assert (refused.status_code, refused.json()["roles"]) == (403, ["buyer", "organiser"])
        assert who.change("PATCH", at, {"note": "Mine"}).status_code == 403
        assert who.change("DELETE", at).status_code == 403


def test_stale_and_missing_versions(scene, at):
    seen = scene.cast.ben.get(at)["ETag"]
    Bill.objects.get().save_changes(fields=[])
    for method, body in (("PATCH", {"note": "Late"}), ("DELETE", None)):
        assert scene.cast.ben.send(method, at, body, If_Match=seen).status_code == 412
        assert scene.cast.ben.send(method, at, body).status_code == 428
    kept = Bill.objects.get()
    assert (kept.withdrawn_at, kept.note) == (None, "The lift is in it.")


def test_a_repeat_is_answered_once(scene, fresh_id):
    body = {
        "id": str(fresh_id),
        "remedy": "reseal",
        "paid": {"amount": "900.00", "currency": "USD"},
        "done_by": "own",
        "document": "Receipt 3",
        "dated_on": "2025-03-20",
    }
    listing = f"/candidates/{scene.heron.id}/bills"
    first = scene.cast.ben.post(listing, body, Idempotency_Key="k")
    again = scene.cast.ben.post(listing, body, Idempotency_Key="k")
    assert first.status_code == 201, first.content
    assert again.json() == first.json()
    assert scene.cast.ben.post(listing, body).status_code == 409
    assert Bill.objects.count() == 1


BAD = [
    ({"paid": {"amount": "-1", "currency": "EUR"}}, "/paid/amount"),
    ({"paid": {"amount": "1", "currency": "XYZ"}}, "/paid/currency"),
    ({"paid": {"amount": "1", "currency": "SEK"}}, "/paid/currency"),
    ({"paid": 900}, "/paid"),
    ({"done_by": "a friend"}, "/done_by"),
    ({"document": ""}, "/document"),
    ({"dated_on": "yesterday"}, "/dated_on"),
    ({"dated_on": str(timezone.now().date() + timedelta(days=3))}, "/dated_on"),
    ({"vat": "20"}, "/vat"),
]


@pytest.mark.parametrize(("changed", "pointer"), [*BAD, ({"remedy": "wish"}, "/remedy")])
def test_bad_fields_are_named(scene, changed, pointer):
    assert pointers(bill(scene, **changed)) == {pointer}
    assert not Bill.objects.exists()


@pytest.mark.parametrize(
    ("changed", "pointer"), [*BAD, ({}, ""), ({"remedy": "reseal"}, "/remedy")]
)
def test_bad_fields_of_a_change_are_named(scene, at, changed, pointer):
    assert pointers(scene.cast.ben.change("PATCH", at, changed)) == {pointer}
    assert Bill.objects.get().version == 1


def test_what_was_right_when_it_was_noted_does_not_keep_the_rest_from_being_put_right(scene):
    """The brief may have lost the rate of a bill's currency since."""
    at = f"/bills/{bill(scene, paid={'amount': '900.00', 'currency': 'USD'}).json()['id']}"
    scene.list.exchange_rates = {}
    scene.list.save()
    changed = scene.cast.ben.change("PATCH", at, {"note": "Paid in two parts."})
    assert changed.status_code == 200, changed.content
    again = {"paid": {"amount": "950.00", "currency": "USD"}}
    assert pointers(scene.cast.ben.change("PATCH", at, again)) == {"/paid/currency"}


def test_everything_wrong_is_told_at_once(scene):
    late = timezone.now().date() + timedelta(days=2)
    refused = bill(scene, remedy="wish", paid={"amount": "1.00", "currency": "SEK"}, dated_on=late)
    assert pointers(refused) == {"/remedy", "/paid/currency", "/dated_on"}


def test_the_database_refuses_what_no_bill_says(scene, at):
    for wrong in ({"amount": -1}, {"done_by": "a friend"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Bill.objects.update(**wrong)


def test_constant_queries(scene, at, django_assert_num_queries):
    listing = f"/candidates/{scene.heron.id}/bills"
    scene.cast.ivy.get(listing)  # a token's first use is noted
    # token, candidate, page
    with django_assert_num_queries(3):
        assert len(scene.cast.ivy.get(listing).json()["results"]) == 1
    for _ in range(6):
        bill(scene)
    with django_assert_num_queries(3):
        assert len(scene.cast.ivy.get(listing).json()["results"]) == 7


def test_facts_hold_what_counts(scene, at, django_assert_num_queries):
    gone = f"/bills/{bill(scene, remedy='new-main').json()['id']}"
    scene.cast.ben.change("DELETE", gone)
    bill(scene, done_by="own", dated_on="2025-01-02", includes_enabling=False)
    with django_assert_num_queries(1):
        early, late = bills_on([scene.list.id])
    assert (early.own, early.includes_enabling, early.dated_on.month) == (True, False, 1)
    assert (late.own, late.amount, late.currency) == (False, 2150.0, "EUR")
    assert bills_on([]) == []
