"""The handover of a boat: the bill of sale, and what was found."""

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from apps.events.models import Event
from apps.ownership.handover.usual import usual_items
from apps.ownership.models import Handover, HandoverItem
from tests.conftest import pointers


@pytest.fixture
def at(spring):
    return f"/candidates/{spring.petrel.pk}"


SOLD = {
    "sold_on": "2025-05-20",
    "seller": "Both owners",
    "price": {"amount": "21500.00", "currency": "USD"},
    "handed_over_on": "2025-05-24",
}


def added(who, at, **changed):
    return who.post(
        f"{at}/handover-items", {"kind": "key", "what": "Engine key", "promised": 2, **changed}
    )


def test_it_works(cast, at):
    made = cast.ben.put(f"{at}/handover", SOLD)
    assert made.status_code == 201, made.content
    assert made.json()["price"] == SOLD["price"]
    assert Event.objects.latest("number").kind == "handover.changed"
    item = added(cast.ben, at).json()
    assert (item["found"], item["checked_by"], item["missing"]) == (None, None, False)
    found = cast.bea.change("PATCH", f"/handover-items/{item['id']}", {"found": 1, "where": "Bea"})
    assert found.status_code == 200, found.content
    said = found.json()
    assert (said["found"], said["missing"], said["checked_by"]["name"]) == (1, True, "Bea")
    assert said["checked_at"] is not None
    assert cast.ivy.get(f"{at}/handover").json()["seller"] == "Both owners"
    read = cast.ivy.get(f"{at}/handover-items").json()
    assert read["items"] == [said]
    assert "licensed" in read["caution"]


def test_it_is_in_the_record_of_the_boat(cast, at):
    cast.ben.put(f"{at}/handover", SOLD)
    item = added(cast.ben, at).json()
    cast.bea.change("PATCH", f"/handover-items/{item['id']}", {"found": 1, "note": "Bent"})
    words = [one["content"]["words"] for one in cast.ivy.get(f"{at}/record").json()["results"]]
    assert "Handed over: Engine key, found 1 of 2. Bent" in words
    assert "It goes with her: Engine key." in words
    assert "The bill of sale and the handover were recorded." in words


def test_a_correction_replaces_all(cast, at):
    cast.ben.put(f"{at}/handover", SOLD)
    said = cast.bea.change("PUT", f"{at}/handover", {"seller": "The widow"})
    assert said.status_code == 200, said.content
    assert said.json()["price"] is None


def test_nobody_has_checked_what_is_taken_back(cast, at):
    item = added(cast.ben, at).json()
    cast.bea.change("PATCH", f"/handover-items/{item['id']}", {"found": 2})
    back = cast.ben.change("PATCH", f"/handover-items/{item['id']}", {"found": None}).json()
    assert (back["found"], back["checked_by"], back["checked_at"]) == (None, None, None)
    # Another word about it is no check.
    noted = cast.ben.change("PATCH", f"/handover-items/{item['id']}", {"note": "Bent"}).json()
    assert noted["checked_by"] is None


def test_usual_items_are_added_once(cast, at):
    before = len(cast.ben.get(f"{at}/handover-items").json()["usual"])
    assert before == len(usual_items())
    for codes, count in ((["sails", "cradle", "sails"], 2), (["sails", "codes"], 1)):
        made = cast.ben.post(f"{at}/handover-items/usual", {"codes": codes})
        assert made.status_code == 201, made.content
        assert len(made.json()["items"]) == count
    assert len(cast.ben.get(f"{at}/handover-items").json()["usual"]) == before - 3
    wrong = cast.ben.post(f"{at}/handover-items/usual", {"codes": ["sails", "anvil"]})
    assert pointers(wrong) == {"/codes/1"}
    assert pointers(cast.ben.post(f"{at}/handover-items/usual", {"codes": []})) == {"/codes"}


def test_bad_input_names_its_field(cast, at):
    assert pointers(cast.ben.put(f"{at}/handover", {"engine_hours": -1})) == {"/engine_hours"}
    wrong = {"price": {"amount": "1.00", "currency": "SEK"}}
    assert pointers(cast.ben.put(f"{at}/handover", wrong)) == {"/price/currency"}
    assert pointers(added(cast.ben, at, kind="sail")) == {"/kind"}
    item = added(cast.ben, at).json()
    assert pointers(cast.ben.change("PATCH", f"/handover-items/{item['id']}", {})) == {""}
    assert not Handover.objects.exists()


def test_who_may_and_the_stale_edit(cast, at):
    assert cast.ben.put(f"{at}/handover", SOLD).status_code == 201
    item = added(cast.ben, at).json()
    own = f"/handover-items/{item['id']}"
    assert cast.ben.put(f"{at}/handover", SOLD).status_code == 428
    held = cast.ben.get(own)["ETag"]
    assert cast.ben.send("PATCH", own, {"found": 2}, If_Match=held).status_code == 200
    assert cast.bea.send("PATCH", own, {"found": 1}, If_Match=held).status_code == 412
    for who, status in ((cast.ivy, 403), (cast.hal, 403), (cast.wim, 404), (cast.nobody, 401)):
        assert who.put(f"{at}/handover", SOLD).status_code == status
        assert added(who, at).status_code == status
        assert who.post(f"{at}/handover-items/usual", {"codes": ["sails"]}).status_code == status
        assert who.send("PATCH", own, {"found": 0}).status_code == status
    for who, status in ((cast.ivy, 200), (cast.wim, 404), (cast.nobody, 401)):
        assert who.get(f"{at}/handover").status_code == status
        assert who.get(f"{at}/handover-items").status_code == status
        assert who.get(own).status_code == status


def test_a_repeat_adds_once(cast, at):
    body = {"kind": "key", "what": "Engine key"}
    for _ in range(2):
        made = cast.ben.post(f"{at}/handover-items", body, Idempotency_Key="a-key-of-mine-1")
        assert made.status_code == 201
    assert HandoverItem.objects.count() == 1


def test_the_database_wants_to_know_who_found_it(cast, spring):
    with pytest.raises(IntegrityError), transaction.atomic():
        HandoverItem.objects.create(
            candidate=spring.petrel, kind="key", what="Key", found=1, added_by=cast.ben.person
        )
    with pytest.raises(IntegrityError), transaction.atomic():
        Handover.objects.create(candidate=spring.petrel, price_amount=1, changed_by=cast.ben.person)


def test_reading_takes_as_many_queries_for_one_as_for_many(cast, at):
    taken = []
    for _ in range(3):
        added(cast.ben, at)
        cast.ben.get(f"{at}/handover-items")
        with CaptureQueriesContext(connection) as queries:
            cast.ben.get(f"{at}/handover-items")
        taken.append(len(queries))
    assert len(set(taken)) == 1
