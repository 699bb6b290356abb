"""The catalogue over HTTP: the same for everybody who is signed in, and read-only."""

import pytest
from django.conf import settings
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.catalogue.services import catalogue_load
from tests.conftest import pointers

KEEL = "checkpoints/keel.toml"


@pytest.fixture
def loaded(cast, small_catalogue):
    return small_catalogue


def codes(answer) -> list[str]:
    assert answer.status_code == 200, answer.content
    return [row["code"] for row in answer.json()["results"]]


def test_it_works(cast, loaded):
    answer = cast.ben.get("/checkpoints")
    assert codes(answer) == ["joint", "iron", "mainsail"], "in walking order"
    assert (answer.json()["edition"], answer.json()["next"]) == (1, None)
    joint, iron, _ = answer.json()["results"]
    assert (joint["place"], joint["priority"], joint["minutes"]) == ("ground", 1, 2)
    assert joint["ask"] == "When was the keel last off, and is there an invoice?"
    assert joint["hampered_by"] == []
    assert joint["number"] == 1
    assert joint["area"] == {"code": "keel", "title": "Keel", "position": 20}
    assert joint["levels"][4] == {"level": 4, "name": "failed", "description": "The keel shifts."}
    assert joint["guarded"] is True
    assert joint["cautions"][0]["text"] == "Never touch a stand."
    assert joint["applies"] == {"keel": ["bolted_fin", "bolted_bulb"]}
    assert joint["measure"] == {"name": "gap", "unit": "mm", "scale": "gap-mm"}
    assert joint["belief"] == {
        "mu": 1.0,
        "age": 0.25,
        "care": 0.4,
        "sd": 0.8,
        "ages_with": "boat",
        "breakage": 0.05,
    }
    assert joint["remedies"][1]["remedy"] == "rebed"
    assert iron["measure"] is None


def test_checkpoints_of_an_area_or_with_a_concern(cast, loaded):
    assert codes(cast.ben.get("/checkpoints?area=keel")) == ["joint", "iron"]
    assert codes(cast.ben.get("/checkpoints?concern=value")) == ["iron", "mainsail"]
    assert codes(cast.ben.get("/checkpoints?area=keel&concern=value")) == ["iron"]
    assert codes(cast.ben.get("/checkpoints?area=nowhere")) == []


def test_a_filter_that_does_not_exist_is_named(cast, loaded):
    assert pointers(cast.ben.get("/checkpoints?zone=keel")) == {"?zone"}
    assert cast.ben.get("/checkpoints?concern=luck").status_code == 422
    assert pointers(cast.ben.get("/remedies?concern=value")) == {"?concern"}


def test_one_checkpoint_with_its_versions(cast, loaded):
    loaded.change(KEEL, "weight = 4.5", "weight = 5")
    catalogue_load(folder=loaded.folder)
    answer = cast.ben.get("/checkpoints/joint").json()
    assert (answer["code"], answer["retired"]) == ("joint", False)
    assert [(each["number"], each["weight"]) for each in answer["versions"]] == [(2, 5), (1, 4.5)]


def test_a_retired_checkpoint_can_still_be_read(cast, loaded):
    loaded.without_checkpoint(KEEL, "iron")
    catalogue_load(folder=loaded.folder)
    assert "iron" not in codes(cast.ben.get("/checkpoints"))
    answer = cast.ben.get("/checkpoints/iron").json()
    assert answer["retired"] is True
    assert answer["versions"][0]["title"] == "Rust on an iron keel"


def test_remedies_and_what_they_cost(cast, loaded):
    answer = cast.ben.get("/remedies")
    assert codes(answer) == ["new-main", "rebed", "reseal"]
    assert answer.json()["yard_rate"]["likely"] == {"amount": "120.00", "currency": "USD"}
    new_main, _, reseal = answer.json()["results"]
    assert new_main["parts"]["high"] == {"amount": "5030.50", "currency": "USD"}
    assert new_main["count"] == "sail"
    assert reseal["hours"] == {"low": 6, "likely": 12, "high": 24}
    assert (reseal["base_year"], reseal["reference_loa_m"]) == (2024, 10)
    assert reseal["enabling"][0]["code"] == "lift-out"
    assert reseal["enabling"][0]["parts"]["low"] == {"amount": "360.00", "currency": "USD"}
    assert codes(cast.ben.get("/remedies?area=keel")) == ["rebed", "reseal"]


def test_one_remedy_with_its_versions(cast, loaded):
    loaded.change("remedies.toml", '"USD"', '"EUR"')
    catalogue_load(folder=loaded.folder)
    versions = cast.ben.get("/remedies/rebed").json()["versions"]
    assert [each["parts"]["low"]["currency"] for each in versions] == ["EUR", "USD"]


def test_cautions_and_scales(cast, loaded):
    assert codes(cast.ben.get("/cautions")) == ["stands"]
    scale = cast.ben.get("/scales").json()["results"][0]
    assert scale["breaks"] == [0.2, 1, 2, 5]
    assert (scale["lowest"], scale["highest"], scale["grades"]) == (0, 100, [])


PATHS = (
    "/checkpoints",
    "/checkpoints/joint",
    "/remedies",
    "/remedies/rebed",
    "/cautions",
    "/scales",
)


@pytest.mark.parametrize("path", PATHS)
def test_it_is_open_to_all_who_are_signed_in_and_to_nobody_else(cast, loaded, path):
    # The catalogue belongs to no group: observers and strangers read the same.
    for who in (cast.ola, cast.ivy, cast.wim, cast.sten):
        assert who.get(path).status_code == 200
    assert cast.nobody.get(path).status_code == 401


@pytest.mark.parametrize("path", PATHS)
def test_it_is_read_only(cast, loaded, path):
    for method in ("POST", "PUT", "PATCH", "DELETE"):
        assert cast.ola.send(method, path, {}).status_code == 405


@pytest.mark.parametrize("path", PATHS)
def test_not_modified_until_it_is_loaded_anew(cast, loaded, path):
    seen = cast.ben.get(path)["ETag"]
    assert cast.ben.get(path, If_None_Match=seen).status_code == 304
    loaded.change(KEEL, "weight = 4.5", "weight = 5")
    catalogue_load(folder=loaded.folder)
    assert cast.ben.get(path, If_None_Match=seen).status_code == 200


def test_what_is_not_in_it_is_not_found(cast, loaded):
    for path in ("/checkpoints/nothing", "/remedies/nothing", "/remedies/joint"):
        assert cast.ben.get(path).status_code == 404


@pytest.mark.parametrize("path", ["/checkpoints", "/remedies", "/cautions", "/scales"])
def test_before_any_catalogue_was_loaded(cast, path):
    refused = cast.ben.get(path)
    assert refused.status_code == 409
    assert refused.json()["code"] == "no_catalogue"


@pytest.mark.parametrize(
    ("path", "most"), [("/checkpoints", 5), ("/remedies", 4), ("/cautions", 3), ("/scales", 3)]
)
def test_many_rows_take_as_many_queries_as_few(cast, loaded, path, most):
    def queries() -> int:
        with CaptureQueriesContext(connection) as taken:
            assert cast.ben.get(path).status_code == 200
        return len(taken)

    cast.ben.get(path)  # the first request also notes when the token was used
    few = queries()
    catalogue_load(folder=settings.BASE_DIR / "fixtures" / "catalogue")
    assert queries() == few
    assert few == most  # the token, the edition, the rows, and one for each prefetched relation


def test_versions_take_as_many_queries_as_one(cast, loaded):
    def queries() -> int:
        with CaptureQueriesContext(connection) as taken:
            assert cast.ben.get("/checkpoints/joint").status_code == 200
        return len(taken)

    cast.ben.get("/checkpoints/joint")
    one = queries()
    for before, after in ((4.5, 5), (5, 4), (4, 3)):
        loaded.change(KEEL, f"weight = {before}", f"weight = {after}")
        catalogue_load(folder=loaded.folder)
    assert queries() == one
