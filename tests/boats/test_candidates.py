"""Putting boats on a list, reading them, and finding them again."""

from datetime import date

import pytest
from django.utils import timezone

from apps.boats.models import Candidate
from tests.boats.conftest import BOAT, add_boat, events, queries_of, revision, usd
from tests.conftest import pointers


def post(cast, list_id, who="ben", headers=None, **facts):
    return getattr(cast, who).post(
        f"/lists/{list_id}/candidates", {**BOAT, **facts}, **(headers or {})
    )


def test_it_works(cast, list_id):
    before = revision(list_id)
    made = post(
        cast,
        list_id,
        asking=usd("24500.00"),
        sources={"loa_m": "documented", "draught_m": "measured"},
        place={"yard": "East yard", "latitude": 54.1, "longitude": 10.2},
        links=["https://example.org/plover"],
        seller_kind="estate",
    )
    assert made.status_code == 201, made.content
    read = cast.ivy.get(f"/candidates/{made.json()['id']}")
    assert read["ETag"] == made["ETag"]
    boat = read.json()
    assert boat == made.json()
    assert {name: boat[name] for name in BOAT} == BOAT
    assert boat["list"] == list_id
    assert boat["stage"] == "listed"
    assert boat["stage_reason"] == ""
    assert boat["asking"] == usd("24500.00")
    assert boat["place"] == {
        "yard": "East yard",
        "yard_id": None,
        "latitude": 54.1,
        "longitude": 10.2,
    }
    assert boat["links"] == ["https://example.org/plover"]
    assert boat["added_by"]["name"] == "Ben"
    assert revision(list_id) == before + 1
    assert events(cast.group.id)[-1] == "candidate.added"


def test_a_name_is_enough(cast, list_id):
    boat = cast.ben.post(f"/lists/{list_id}/candidates", {"name": "Curlew"}).json()
    assert boat["loa_m"] is None
    assert boat["keel"] is None
    assert boat["asking"] is None
    assert boat["sources"] == {}
    assert boat["seller_kind"] == "unknown"
    assert set(boat["ratios"].values()) == {None}


def test_what_is_said_is_a_claim_until_said_otherwise(cast, list_id):
    sources = post(cast, list_id, sources={"draught_m": "measured"}).json()["sources"]
    assert sources["draught_m"] == "measured"
    assert sources["loa_m"] == "claimed"
    assert sources["keel"] == "claimed"
    assert "engine_year" not in sources


def test_a_price_makes_its_first_record(cast, list_id):
    boat = add_boat(cast, list_id, asking=usd("24500.00"))
    (record,) = cast.ivy.get(f"/candidates/{boat}/prices").json()["results"]
    assert record["asking"] == usd("24500.00")
    assert record["asked_on"] == str(timezone.now().date())
    assert record["by"]["name"] == "Ben"


def test_design_ratios(cast, boat_id):
    """The ratios themselves are checked against published figures in tests/published."""
    ratios = cast.ivy.get(f"/candidates/{boat_id}").json()["ratios"]
    assert ratios["ballast_ratio"]["value"] == 0.4
    assert ratios["ballast_ratio"]["reading"] == "usual"
    assert ratios["ballast_ratio"]["limits"] == [0.3, 0.45]
    # 1.34 knots times the root of 8 m in feet (Froude).
    assert ratios["hull_speed_kn"]["value"] == pytest.approx(6.865, abs=0.001)
    assert ratios["capsize_screening"]["limits"] == [2.0]
    assert all(ratio["caution"] for ratio in ratios.values())


def test_a_ratio_needs_all_its_figures(cast, list_id):
    boat = add_boat(cast, list_id, ballast_kg=None)
    ratios = cast.ivy.get(f"/candidates/{boat}").json()["ratios"]
    assert ratios["ballast_ratio"] is None
    assert ratios["displacement_length"] is not None


def test_it_does_not_exist_for_strangers(cast, list_id, boat_id):
    for stranger in (cast.sten, cast.wim):
        assert stranger.get(f"/lists/{list_id}/candidates").status_code == 404
        assert stranger.get(f"/candidates/{boat_id}").status_code == 404
        assert stranger.post(f"/lists/{list_id}/candidates", BOAT).status_code == 404
    assert Candidate.objects.count() == 1


def test_wrong_group(cast, foreign_list_id):
    assert post(cast, foreign_list_id).status_code == 404


@pytest.mark.parametrize("who", ["ivy", "hal"])
def test_only_buyers_add(cast, list_id, who):
    refused = post(cast, list_id, who)
    assert refused.status_code == 403
    assert refused.json()["roles"] == ["buyer", "organiser"]


def test_a_repeat_is_answered_once(cast, list_id):
    first = post(cast, list_id, headers={"Idempotency_Key": "k1"})
    again = post(cast, list_id, headers={"Idempotency_Key": "k1"})
    assert again.json() == first.json()
    assert again["Idempotent-Replay"] == "true"
    assert Candidate.objects.count() == 1


def test_client_made_id(cast, list_id, fresh_id):
    assert post(cast, list_id, id=str(fresh_id)).json()["id"] == str(fresh_id)
    assert post(cast, list_id, id=str(fresh_id)).status_code == 409


NEXT_YEAR = date.today().year + 1


@pytest.mark.parametrize(
    ("wrong", "at"),
    [
        ({"name": ""}, "/name"),
        ({"lwl_m": 10.5}, "/lwl_m"),  # longer than LOA
        ({"beam_m": 10.5, "displacement_kg": None}, "/beam_m"),
        ({"draught_m": 5.0}, "/draught_m"),
        ({"draught_m": 25.0}, "/draught_m"),
        ({"ballast_kg": 5000.0}, "/ballast_kg"),
        ({"ballast_kg": -1}, "/ballast_kg"),
        ({"displacement_kg": 99.0, "ballast_kg": 10.0}, "/displacement_kg"),
        ({"displacement_kg": 100_001.0}, "/displacement_kg"),
        ({"loa_m": 0}, "/loa_m"),
        ({"loa_m": "10"}, "/loa_m"),
        ({"loa_m": True}, "/loa_m"),
        ({"build_year": NEXT_YEAR}, "/build_year"),
        ({"build_year": 1849}, "/build_year"),
        ({"build_year": 1984.5}, "/build_year"),
        ({"engine_year": NEXT_YEAR}, "/engine_year"),
        ({"rigging_year": NEXT_YEAR}, "/rigging_year"),
        ({"sails_year": NEXT_YEAR}, "/sails_year"),
        ({"engine_hours": -5}, "/engine_hours"),
        ({"keel": "wooden leg"}, "/keel"),
        ({"place": {"latitude": 54.0}}, "/place/longitude"),
        ({"place": {"longitude": 10.0}}, "/place/latitude"),
        ({"place": {"latitude": 91, "longitude": 10}}, "/place/latitude"),
        ({"place": {"latitude": 54, "longitude": 181}}, "/place/longitude"),
        ({"place": {"harbour": "x"}}, "/place/harbour"),
        ({"links": ["https://example.org/a", "ftp://example.org/b"]}, "/links/1"),
        ({"links": ["javascript:alert(1)"]}, "/links/0"),
        ({"links": ["file:///etc/passwd"]}, "/links/0"),
        ({"asking": {"amount": "1.00", "currency": "EUR"}}, "/asking/currency"),
        ({"asking": usd("-1.00")}, "/asking/amount"),
        ({"sources": {"loa_m": "guessed"}}, "/sources/loa_m"),
        ({"sources": {"colour": "measured"}}, "/sources/colour"),
        ({"sources": {"engine_year": "documented"}}, "/sources/engine_year"),  # not known at all
        ({"draft_m": 1.6}, "/draft_m"),
        ({"stage": "bought"}, "/stage"),
        ({"id": "6ba7b810-9dad-11d1-80b4-00c04fd430c8"}, "/id"),  # of version 1
    ],
)
def test_bad_fields_are_named(cast, list_id, wrong, at):
    before = revision(list_id)
    assert pointers(post(cast, list_id, **wrong)) == {at}
    assert not Candidate.objects.exists()
    assert revision(list_id) == before


def test_beyond_all_bounds(cast, list_id):
    body = '{"name": "Plover", "loa_m": 1e999}'
    assert pointers(cast.ben.post(f"/lists/{list_id}/candidates", body)) == {"/loa_m"}


def test_all_faults_are_told_at_once(cast, list_id):
    refused = post(cast, list_id, lwl_m=12.0, ballast_kg=6000.0, build_year=NEXT_YEAR)
    assert pointers(refused) == {"/lwl_m", "/ballast_kg", "/build_year"}


def test_no_rate_says_so(cast, list_id):
    refused = post(cast, list_id, asking={"amount": "1.00", "currency": "EUR"})
    assert refused.json()["errors"][0]["code"] == "no_exchange_rate"


def names(cast, list_id, query=""):
    answer = cast.ivy.get(f"/lists/{list_id}/candidates{query}")
    assert answer.status_code == 200, answer.content
    return [row["name"] for row in answer.json()["results"]]


def test_it_finds_by_stage_and_name(cast, list_id):
    all_names = ["Plover", "Ringed plover", "Ruff"]
    boats = {name: add_boat(cast, list_id, name=name) for name in all_names}
    cast.ben.post(f"/candidates/{boats['Ruff']}/stage-changes", {"stage": "viewing"})
    cast.ben.post(f"/candidates/{boats['Plover']}/stage-changes", {"stage": "offer"})
    assert names(cast, list_id) == all_names
    assert names(cast, list_id, "?order=newest") == ["Ruff", "Ringed plover", "Plover"]
    assert names(cast, list_id, "?stage=viewing,offer") == ["Plover", "Ruff"]
    assert names(cast, list_id, "?stage=listed&text=PLOVER") == ["Ringed plover"]


@pytest.mark.parametrize(
    ("query", "at"),
    [("?stage=listed,sunk", "?stage"), ("?units=fathoms", "?units"), ("?keel=full", "?keel")],
)
def test_bad_parameters_are_named(cast, list_id, query, at):
    assert pointers(cast.ivy.get(f"/lists/{list_id}/candidates{query}")) == {at}


def test_pages(cast, list_id):
    for name in ("a", "b", "c"):
        add_boat(cast, list_id, name=name)
    first = cast.ivy.get(f"/lists/{list_id}/candidates?limit=2").json()
    second = cast.ivy.get(first["next"].removeprefix("http://testserver")).json()
    assert [row["name"] for row in first["results"] + second["results"]] == ["a", "b", "c"]
    assert second["next"] is None


def test_constant_queries(cast, list_id, boat_id):
    path = f"/lists/{list_id}/candidates"
    one = queries_of(lambda: cast.ivy.get(path))
    for n in range(8):
        add_boat(cast, list_id, name=f"Boat {n}")
    assert queries_of(lambda: cast.ivy.get(path)) == one == 3  # token, list, candidates
