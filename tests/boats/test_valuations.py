"""Valuations, and who sees them when."""

from decimal import Decimal

import pytest

from apps.boats.models import Candidate, Valuation
from apps.boats.opinion_services import valuation_give
from apps.common.errors import Stale
from apps.events.models import Event
from tests.boats.conftest import events, queries_of, revision, usd
from tests.conftest import pointers


@pytest.fixture
def path(boat_id) -> str:
    return f"/candidates/{boat_id}/valuation"


def give(cast, who, path, amount="30000.00", **headers):
    return getattr(cast, who).put(path, {"valuation": usd(amount)}, **headers)


def test_it_works(cast, list_id, boat_id, path):
    before = revision(list_id)
    made = give(cast, "ben", path)
    assert made.status_code == 201, made.content
    assert made.json()["valuation"] == usd("30000.00")
    assert made.json()["person"]["name"] == "Ben"
    read = cast.ben.get(path)
    assert read.json() == made.json()
    assert read["ETag"] == made["ETag"]
    assert revision(list_id) == before + 1
    assert events(cast.group.id)[-1] == "valuation.given"


def test_another_one_takes_its_place(cast, path):
    give(cast, "ben", path)
    changed = cast.ben.change("PUT", path, {"valuation": usd("28000.00")})
    assert changed.status_code == 200
    assert changed.json()["valuation"] == usd("28000.00")
    assert Valuation.objects.count() == 1


def seen_by(cast, who, boat_id):
    answer = getattr(cast, who).get(f"/candidates/{boat_id}/valuations").json()
    return [row["person"]["name"] for row in answer["results"]], answer["hidden"]


def test_others_are_hidden_until_own_is_given(cast, boat_id, path):
    give(cast, "ben", path)
    assert seen_by(cast, "bea", boat_id) == ([], 1)
    assert seen_by(cast, "ben", boat_id) == (["Ben"], 0)
    give(cast, "bea", path)
    assert seen_by(cast, "bea", boat_id) == (["Ben", "Bea"], 0)
    assert seen_by(cast, "ola", boat_id) == ([], 2)


def test_taken_back_the_others_are_hidden_again(cast, list_id, boat_id, path):
    give(cast, "ben", path)
    give(cast, "bea", path)
    before = revision(list_id)
    assert cast.bea.change("DELETE", path).status_code == 204
    assert cast.bea.get(path).status_code == 404
    assert cast.bea.delete(path).status_code == 404
    assert seen_by(cast, "bea", boat_id) == ([], 1)
    assert revision(list_id) == before + 1


def test_who_does_not_buy_sees_them_once_opened(cast, list_id, boat_id, path):
    give(cast, "ben", path)
    assert seen_by(cast, "ivy", boat_id) == ([], 1)
    cast.ola.change("PATCH", f"/lists/{list_id}", {"opinions_open": True})
    for who in ("ivy", "hal", "bea", "ola"):
        assert seen_by(cast, who, boat_id) == (["Ben"], 0)


def test_one_valuation_opens_only_that_boat(cast, list_id, boat_id, path):
    other = cast.ben.post(f"/lists/{list_id}/candidates", {"name": "Ruff"}).json()["id"]
    give(cast, "ben", path)
    give(cast, "bea", f"/candidates/{other}/valuation")
    assert seen_by(cast, "bea", boat_id) == ([], 1)


def test_the_event_is_its_owners_alone_until_opened(cast, list_id, path):
    give(cast, "ben", path)
    assert Event.objects.get(kind="valuation.given").only_for == cast.ben.person.pk
    cast.ola.change("PATCH", f"/lists/{list_id}", {"opinions_open": True})
    give(cast, "bea", path)
    assert Event.objects.get(kind="valuation.given", by=cast.bea.person).only_for is None


def test_versions(cast, path):
    first = give(cast, "ben", path, If_None_Match="*")
    assert first.status_code == 201
    assert give(cast, "ben", path).status_code == 428
    assert give(cast, "ben", path, If_None_Match="*").status_code == 412
    assert give(cast, "ben", path, "1.00", If_Match=first["ETag"]).status_code == 200
    assert give(cast, "ben", path, "2.00", If_Match=first["ETag"]).status_code == 412
    assert cast.ben.delete(path).status_code == 428
    assert cast.ben.delete(path, If_Match=first["ETag"]).status_code == 412
    assert cast.ben.get(path).json()["valuation"] == usd("1.00")


def test_none_yet_matches_no_etag(cast, path):
    assert give(cast, "ben", path, If_Match='"x"').status_code == 412
    assert not Valuation.objects.exists()


def test_the_second_of_two_first_ones_is_late(cast, boat_id):
    """Two devices of one person, both having read that there is none yet."""
    candidate = Candidate.objects.select_related("list").get(pk=boat_id)
    given = {"candidate": candidate, "by": cast.ben.person, "currency": "USD"}
    valuation_give(**given, amount=Decimal(10))
    with pytest.raises(Stale):
        valuation_give(**given, amount=Decimal(20))
    assert Valuation.objects.get().amount == 10


@pytest.mark.parametrize(
    ("body", "at"),
    [
        ({}, "/valuation"),
        ({"valuation": usd("-1")}, "/valuation/amount"),
        ({"valuation": {"amount": "1.00", "currency": "EUR"}}, "/valuation/currency"),
        ({"valuation": usd("1.00"), "why": "x"}, "/why"),
    ],
)
def test_bad_fields_are_named(cast, path, body, at):
    assert pointers(cast.ben.put(path, body)) == {at}


def test_it_does_not_exist_for_strangers(cast, boat_id, path):
    for stranger in ("sten", "wim"):
        assert give(cast, stranger, path).status_code == 404
        assert getattr(cast, stranger).get(path).status_code == 404
        assert getattr(cast, stranger).delete(path).status_code == 404
        assert getattr(cast, stranger).get(f"/candidates/{boat_id}/valuations").status_code == 404


@pytest.mark.parametrize("who", ["ivy", "hal"])
def test_only_who_buys_gives_one(cast, path, who):
    assert give(cast, who, path).status_code == 403


def test_constant_queries(cast, boat_id, path):
    rows = f"/candidates/{boat_id}/valuations"
    give(cast, "ben", path)
    one = queries_of(lambda: cast.ben.get(rows))
    give(cast, "bea", path)
    give(cast, "ola", path)
    assert (
        queries_of(lambda: cast.ben.get(rows)) == one == 4
    )  # token, candidate, given?, valuations
