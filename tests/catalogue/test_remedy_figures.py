"""Figures that depend on how a boat is built, and work that is a share of her price."""

import pytest

from apps.catalogue.content import ThreePoints
from apps.catalogue.reading import CatalogueInvalid, read_catalogue
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.services import catalogue_load
from tests.catalogue.own import said

REBED = 'code = "rebed"\ntitle = "Drop and rebed the keel"'
LEAD = 'applies = { keel_ballast = ["lead"] }, hours = [40, 60, 99], parts = [800, 1500, 3100]'
USUAL = (ThreePoints(30, 50, 90), ThreePoints(700, 1400, 3000))
OF_LEAD = (ThreePoints(40, 60, 99), ThreePoints(800, 1500, 3100))


def figures(remedy, **built_of):
    found = remedy.on(built_of)
    return found.hours, found.parts


def with_variant(files, variant=LEAD):
    files.change("remedies.toml", REBED, f"variants = [{{ {variant} }}]\n{REBED}")
    return files


def faults(files) -> list[str]:
    with pytest.raises(CatalogueInvalid) as caught:
        read_catalogue(files.folder)
    return caught.value.faults


# --- How she is built ----------------------------------------------------------------------------


def test_it_works(files):
    rebed = read_catalogue(with_variant(files).folder).remedies["rebed"]
    assert figures(rebed, keel_ballast="lead") == OF_LEAD
    assert figures(rebed, keel_ballast="iron") == USUAL
    assert figures(rebed) == USUAL, "where nobody knows, the usual ones"


@pytest.mark.django_db
def test_it_is_stored_and_shown(files, cast):
    catalogue_load(folder=with_variant(files).folder)
    assert catalogue_snapshot().catalogue == read_catalogue(files.folder)
    rows = {row["code"]: row for row in cast.ben.get("/remedies").json()["results"]}
    assert rows["rebed"]["variants"] == [
        {
            "applies": {"keel_ballast": ["lead"]},
            "hours": {"low": 40, "likely": 60, "high": 99},
            "parts": {
                "low": {"amount": "800.00", "currency": "USD"},
                "likely": {"amount": "1500.00", "currency": "USD"},
                "high": {"amount": "3100.00", "currency": "USD"},
            },
        }
    ]
    assert rows["reseal"]["variants"] == []


def test_faults_are_named(files):
    with_variant(files, LEAD.replace("800, 1500", "1800, 1500").replace('"lead"', '"lead", "tin"'))
    assert any("rebed" in fault and "'tin'" in fault for fault in faults(files))
    files.change("remedies.toml", ', "tin"', "")
    assert faults(files) == [
        "remedies.toml: rebed: variants[1].parts: low, likely and high are out of order"
    ]
    files.change("remedies.toml", 'applies = { keel_ballast = ["lead"] }', "applies = {}")
    assert any("rebed: variants[1].applies" in fault for fault in faults(files))


def test_a_worse_level_costs_no_less_on_a_boat_built_so_either(files):
    with_variant(files, LEAD.replace("[40, 60, 99]", "[0, 0, 0]").replace("1500", "801"))
    files.change("checkpoints/keel.toml", "[0, 0, 0.1, 0.8, 1]", "[0, 0, 0, 0.8, 1]")
    files.change("checkpoints/keel.toml", "[0, 1, 1, 1, 0]", "[0, 1, 2.5, 1, 0]")
    told = faults(files)
    assert len(told) == 1
    assert "joint: remedies: expected cost falls" in told[0]


@pytest.mark.django_db
def test_a_club_that_says_what_it_takes_says_it_of_all_boats(waters, files):
    catalogue_load(folder=with_variant(files).folder)
    path = f"{waters.of_club}/remedies/rebed"
    said(waters.adam, path, {"title": "Keel off and on"})
    named = catalogue_snapshot(waters.cast.group.pk).catalogue.remedies["rebed"]
    assert figures(named, keel_ballast="lead") == OF_LEAD
    said(waters.adam, path, {"hours": [31, 51, 91]})
    priced = catalogue_snapshot(waters.cast.group.pk).catalogue.remedies["rebed"]
    assert priced.variants == ()
    assert figures(priced, keel_ballast="lead")[0] == ThreePoints(31, 51, 91)


@pytest.mark.django_db
def test_a_club_says_it_of_boats_built_so(waters):
    variant = {
        "applies": {"keel_ballast": ["lead"]},
        "hours": [40, 60, 99],
        "parts": [800, 1500, 3100],
    }
    path = f"{waters.of_club}/remedies/rebed"
    said(waters.adam, path, {"variants": [variant]})
    found = catalogue_snapshot(waters.cast.group.pk).catalogue.remedies["rebed"]
    assert figures(found, keel_ballast="lead") == OF_LEAD
    again = waters.adam.get(path)
    variant["parts"] = [900, 500, 100]
    refused = waters.adam.put(path, {"own": {"variants": [variant]}}, If_Match=again["ETag"])
    assert refused.status_code == 422
    assert [fault["pointer"] for fault in refused.json()["errors"]] == ["/own/variants/0/parts"]


# --- A share of her price ------------------------------------------------------------------------


def test_a_share_of_the_price_has_no_exponent(files):
    scale = 'parts = [2250, 3270, 5030.50]\nscale = { by = "none" }'
    files.change("remedies.toml", scale, scale.replace('"none"', '"price"'))
    assert read_catalogue(files.folder).remedies["new-main"].by_price
    files.change("remedies.toml", '{ by = "price" }', '{ by = "price", exponent = 1 }')
    assert faults(files) == ["remedies.toml: new-main: scale: an exponent needs by = 'loa'"]


def test_enabling_work_is_no_share_of_the_price(files):
    files.change("enabling.toml", '{ by = "loa", exponent = 1 }', '{ by = "price" }')
    assert faults(files) == ["enabling.toml: lift-out: scale.by: 'price' is none of 'loa', 'none'"]
