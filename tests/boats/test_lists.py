"""Starting, reading and listing a group's lists with their briefs."""

import pytest

from apps.boats.list_models import CandidateList
from tests.appraisal.building import load_catalogue
from tests.boats.conftest import BRIEF, events, queries_of, usd
from tests.conftest import pointers


def post(cast, who="ola", *, name="Spring", headers=None, **brief):
    body = {"name": name, "brief": {**BRIEF, **brief}}
    return getattr(cast, who).post(f"/groups/{cast.group.id}/lists", body, **(headers or {}))


def test_it_works(cast):
    made = post(
        cast,
        required_confidence="0.90",
        yard_hourly_rate=usd("95.00"),
        exchange_rates={"EUR": "1.08"},
        own_remedies=["antifouling-renew"],
        own_hours=120,
    )
    assert made.status_code == 201, made.content
    read = cast.ivy.get(f"/lists/{made.json()['id']}")
    assert read["ETag"] == made["ETag"]
    assert read.json() == made.json()
    brief = read.json()["brief"]
    assert brief["budget"] == usd("60000.00")
    assert brief["yard_hourly_rate"] == usd("95.00")
    assert brief["required_confidence"] == "0.90"
    assert brief["exchange_rates"] == {"EUR": "1.08"}
    assert read.json()["group"] == str(cast.group.id)
    assert read.json()["opinions_open"] is False


def test_the_usual_values_are_shown(cast):
    load_catalogue()
    brief = post(cast).json()["brief"]
    assert brief["required_confidence"] == "0.80"
    assert brief["expected_price_share"] == "0.950"
    assert brief["survey_fee_per_m"] == usd("85.00")
    assert brief["travel_km"] is None


def test_it_is_told(cast):
    post(cast)
    assert events(cast.group.id)[-1] == "list.created"


def test_it_lists_only_the_groups_own(cast, list_id, foreign_list_id):
    rows = cast.ivy.get(f"/groups/{cast.group.id}/lists").json()["results"]
    assert [row["id"] for row in rows] == [list_id]


def test_it_does_not_exist_for_strangers(cast, list_id):
    for stranger in (cast.sten, cast.wim):
        assert stranger.get(f"/groups/{cast.group.id}/lists").status_code == 404
        assert stranger.get(f"/lists/{list_id}").status_code == 404
    assert post(cast, "sten").status_code == 404
    assert CandidateList.objects.count() == 1


def test_wrong_group(cast):
    path = f"/groups/{cast.other_group.id}/lists"
    assert cast.ola.post(path, {"name": "x", "brief": BRIEF}).status_code == 404


@pytest.mark.parametrize("who", ["ivy", "hal", "ben"])
def test_only_the_organiser_starts_one(cast, who):
    refused = post(cast, who)
    assert refused.status_code == 403
    assert refused.json()["roles"] == ["organiser"]
    assert not CandidateList.objects.exists()


def test_a_repeat_is_answered_once(cast):
    first = post(cast, headers={"Idempotency_Key": "k1"})
    again = post(cast, headers={"Idempotency_Key": "k1"})
    assert again.json() == first.json()
    assert CandidateList.objects.count() == 1


def test_client_made_id(cast, fresh_id):
    body = {"id": str(fresh_id), "name": "Spring", "brief": BRIEF}
    path = f"/groups/{cast.group.id}/lists"
    assert cast.ola.post(path, body).json()["id"] == str(fresh_id)
    assert cast.ola.post(path, body).status_code == 409


@pytest.mark.parametrize(
    ("wrong", "at"),
    [
        ({"currency": "XXL"}, "/brief/currency"),  # no such code in ISO 4217
        (
            {"currency": "usd", "budget": {"amount": "1", "currency": "usd"}},
            "/brief/budget/currency",
        ),
        ({"budget": usd("-1.00")}, "/brief/budget/amount"),
        ({"budget": usd("a lot")}, "/brief/budget/amount"),
        ({"budget": 60000}, "/brief/budget"),
        ({"budget": {"amount": "1.00", "currency": "EUR"}}, "/brief/budget/currency"),
        ({"transport": {"amount": "1", "currency": "NOK"}}, "/brief/transport/currency"),
        ({"required_confidence": "0.49"}, "/brief/required_confidence"),
        ({"required_confidence": "1"}, "/brief/required_confidence"),
        ({"tax_rate": "1.5"}, "/brief/tax_rate"),
        ({"own_remedies": ["Two words"]}, "/brief/own_remedies/0"),
        ({"own_hours": -1}, "/brief/own_hours"),
        ({"exchange_rates": {"EUR": "0"}}, "/brief/exchange_rates/EUR"),
        ({"exchange_rates": {"EUR": "-1"}}, "/brief/exchange_rates/EUR"),
        ({"exchange_rates": {"QQQ": "1.1"}}, "/brief/exchange_rates/QQQ"),
        ({"exchange_rates": {"USD": "1.1"}}, "/brief/exchange_rates/USD"),
        ({"vote_weights": "by age"}, "/brief/vote_weights"),
        ({"pots": usd("1.00")}, "/brief/pots"),
    ],
)
def test_bad_fields_are_named(cast, wrong, at):
    assert at in pointers(post(cast, **wrong))
    assert not CandidateList.objects.exists()


def test_all_faults_are_told_at_once(cast):
    refused = cast.ola.post(f"/groups/{cast.group.id}/lists", {"brief": {"budget": 1, "year": 2}})
    assert pointers(refused) == {"/name", "/brief/currency", "/brief/budget", "/brief/year"}


def test_constant_queries(cast, list_id):
    path = f"/groups/{cast.group.id}/lists"
    one = queries_of(lambda: cast.ivy.get(path))
    for n in range(5):
        post(cast, name=f"List {n}")
    assert queries_of(lambda: cast.ivy.get(path)) == one == 4  # token, membership, lists, catalogue
