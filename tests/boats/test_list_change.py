"""Changing a list's name, its brief, and whether opinions are open."""

import pytest

from apps.boats.list_models import CandidateList
from tests.boats.conftest import add_boat, events, revision, usd
from tests.conftest import pointers


def patch(cast, list_id, body, who="ola"):
    return getattr(cast, who).change("PATCH", f"/lists/{list_id}", body)


def test_it_works(cast, list_id):
    before = revision(list_id)
    changed = patch(cast, list_id, {"brief": {"budget": usd("70000.00")}})
    assert changed.status_code == 200, changed.content
    assert changed.json()["brief"]["budget"] == usd("70000.00")
    assert changed.json()["brief"]["required_confidence"] == "0.80"
    assert changed.json()["name"] == "Spring"
    assert changed["ETag"] == cast.ola.get(f"/lists/{list_id}")["ETag"]
    assert revision(list_id) == before + 1
    assert events(cast.group.id)[-1] == "list.changed"


def test_a_name_changes_no_result(cast, list_id):
    before = revision(list_id)
    assert patch(cast, list_id, {"name": "Autumn"}).json()["name"] == "Autumn"
    assert revision(list_id) == before


def test_opinions_are_opened_and_closed_on_record(cast, list_id):
    assert patch(cast, list_id, {"opinions_open": True}).json()["opinions_open"] is True
    assert patch(cast, list_id, {"opinions_open": False}).json()["opinions_open"] is False
    told = events(cast.group.id)[-2:]
    assert told == ["list.opinions_opened", "list.opinions_closed"]


def test_it_does_not_exist_for_strangers(cast, list_id):
    for stranger in (cast.sten, cast.wim):
        assert stranger.patch(f"/lists/{list_id}", {"name": "x"}).status_code == 404


@pytest.mark.parametrize("who", ["ivy", "hal", "ben"])
def test_only_the_organiser_changes_it(cast, list_id, who):
    refused = patch(cast, list_id, {"name": "x"}, who)
    assert refused.status_code == 403
    assert refused.json()["roles"] == ["organiser"]


def test_stale_and_missing_versions(cast, list_id):
    path = f"/lists/{list_id}"
    seen = cast.ola.get(path)["ETag"]
    assert cast.ola.patch(path, {"name": "First"}, If_Match=seen).status_code == 200
    assert cast.ola.patch(path, {"name": "Late"}, If_Match=seen).status_code == 412
    assert cast.ola.patch(path, {"name": "Blind"}).status_code == 428
    assert CandidateList.objects.get(pk=list_id).name == "First"


@pytest.mark.parametrize(
    ("body", "at"),
    [
        ({"brief": {"budget": {"amount": "1.00", "currency": "EUR"}}}, "/brief/budget/currency"),
        ({"brief": {"required_confidence": "0.4"}}, "/brief/required_confidence"),
        ({"brief": {"currency": "EUR"}}, "/brief/currency"),  # amounts would change their worth
        ({"budget": usd("1.00")}, "/budget"),
        ({"name": ""}, "/name"),
    ],
)
def test_bad_fields_are_named(cast, list_id, body, at):
    assert pointers(patch(cast, list_id, body)) == {at}
    assert CandidateList.objects.get(pk=list_id).currency == "USD"


def test_the_same_currency_may_be_sent_again(cast, list_id):
    assert patch(cast, list_id, {"brief": {"currency": "USD"}}).status_code == 200


def test_a_rate_in_use_stays(cast, list_id):
    patch(cast, list_id, {"brief": {"exchange_rates": {"EUR": "1.08"}}})
    add_boat(cast, list_id, asking={"amount": "20000.00", "currency": "EUR"})
    refused = patch(cast, list_id, {"brief": {"exchange_rates": {"GBP": "1.27"}}})
    assert pointers(refused) == {"/brief/exchange_rates"}
    assert CandidateList.objects.get(pk=list_id).exchange_rates == {"EUR": "1.08"}
