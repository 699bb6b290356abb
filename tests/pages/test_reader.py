"""Sizes and amounts as the reader wants them shown.

By the international yard and pound agreement of 1959 a foot is 0.3048 m and a pound 0.45359237 kg.
"""

import pytest

from apps.accounts.models import Person
from apps.appraisal.jobs import list_recompute
from apps.appraisal.words.phrases import figure
from apps.boats.models import Candidate
from apps.common.units import units_shown_as
from apps.pages.templatetags.reading import road
from tests.pages.browser import Browser


@pytest.fixture
def heron(scene) -> Candidate:
    """11.5824 m are 38 ft, 1.524 m are 5 ft, 4535.9237 kg are 10,000 lb."""
    Candidate.objects.filter(pk=scene.heron.pk).update(
        loa_m=11.5824,
        draught_m=1.524,
        displacement_kg=4535.9237,
        sail_area_m2=46.45152,
        asking_amount=20_000,
        asking_currency="EUR",
    )
    scene.list.exchange_rates = {"USD": "0.8"}
    scene.list.save()
    list_recompute(list_id=scene.list.pk)
    return scene.heron


def wants(who, **chosen: str) -> None:
    Person.objects.filter(pk=who.person.pk).update(**chosen)


def page_of(who, at: str) -> str:
    return Browser(who).get(at).content.decode()


@pytest.mark.parametrize(
    ("key", "stored", "shown"),
    [
        ("loa_m", 11.5824, "38 ft"),
        ("draught_m", 1.6, "5.25 ft"),
        ("displacement_kg", 4535.9237, "10000 lb"),
        ("sail_area_m2", 46.45152, "500 sq ft"),
        ("build_year", 1990, "1990"),
        ("loa_m", "long", "long m"),
    ],
)
def test_a_figure_in_the_units_shown(key, stored, shown):
    with units_shown_as("imperial"):
        assert figure(key, stored) == shown


def test_roads_in_statute_miles():
    """Of 1760 yards of 0.9144 m."""
    assert road(160_934.4) == "161 km"
    with units_shown_as("imperial"):
        assert road(160_934.4) == "100 mi"


def test_metres_unless_the_reader_says_otherwise(scene, heron):
    at = f"/boats/{heron.pk}"
    assert "1.524 m" in page_of(scene.cast.bea, at)
    wants(scene.cast.ben, units="imperial")
    page = page_of(scene.cast.ben, at)
    for shown in ("38 ft", "5 ft", "10000 lb", "500 sq ft"):
        assert f"<dd>{shown} " in page
    assert "1.524" not in page
    assert "1.524 m" in page_of(scene.cast.bea, at), "others read on in theirs"


def test_the_api_is_not_changed_by_it(scene, heron):
    wants(scene.cast.ben, units="imperial")
    assert scene.cast.ben.get(f"/candidates/{heron.pk}").json()["draught_m"] == 1.524


def test_forms_ask_in_the_readers_units(scene, heron):
    wants(scene.cast.ben, units="imperial")
    page = page_of(scene.cast.ben, f"/boats/{heron.pk}")
    assert 'name="draught_ft" type="number" value="5.0"' in page
    assert 'name="draught_m"' not in page
    new = page_of(scene.cast.ben, f"/lists/{scene.list.pk}/boats/new")
    assert 0 < new.index('name="loa_ft"') < new.index('name="loa_m"')
    opinions = page_of(scene.cast.ben, f"/lists/{scene.list.pk}/opinions")
    assert '<option value="draught_ft" selected>Draught (ft)' in opinions


def test_a_want_in_feet_reads_in_feet(scene, heron):
    ben = scene.cast.ben
    wants(ben, units="imperial")
    limit = {
        "subject": "particular",
        "key": "draught_ft",
        "test": "at_most",
        "value": 4.5,
        "kind": "must",
    }
    made = ben.post(f"/lists/{scene.list.pk}/wants", limit)
    assert made.status_code == 201, made.content
    at = f"/lists/{scene.list.pk}/opinions"
    assert "Draught at most 4.5 ft" in page_of(ben, at)
    assert "Draught at most 1.3716 m" in page_of(scene.cast.bea, at)


def test_amounts_are_shown_a_second_time_where_a_rate_is_known(scene, heron):
    at = f"/boats/{heron.pk}"
    assert "(about" not in page_of(scene.cast.ben, at)
    wants(scene.cast.ben, currency="USD")
    page = page_of(scene.cast.ben, at)
    assert "20,000 EUR" in page
    assert "(about 25,000 USD)" in page, "one USD is 0.8 EUR"
    assert "USD)" in page_of(scene.cast.ben, f"/lists/{scene.list.pk}")
    for code in ("EUR", "NOK"):  # the list's own; one without a rate
        wants(scene.cast.ben, currency=code)
        assert "(about" not in page_of(scene.cast.ben, at)


def test_the_choice_is_made_on_ones_own_page(scene):
    ben = Browser(scene.cast.ben)
    page = ben.get("/me").content.decode()
    etag = scene.cast.ben.get("/people/me")["ETag"]
    assert '<option value="imperial">' in page
    assert '<option value="NOK">Norwegian Krone' in page
    answer = ben.write("PATCH", "/people/me", {"units": "imperial"}, If_Match=etag)
    assert answer.status_code == 200
    assert '<option value="imperial" selected>' in ben.get("/me").content.decode()
