"""The board as a page."""

import pytest

from apps.appraisal.jobs import list_recompute
from apps.boats.models import Candidate
from tests.pages.browser import Browser
from tests.pages.conftest import EVIL
from tests.pages.test_every_page import queries_of
from tests.viewings.conftest import look


@pytest.fixture
def at(scene) -> str:
    return f"/lists/{scene.list.pk}"


def worked_out(scene) -> None:
    list_recompute(list_id=scene.list.pk)


@pytest.fixture
def priced(scene):
    """Both boats can be priced, and Heron was looked at."""
    Candidate.objects.filter(list=scene.list).update(
        asking_amount=20_000, asking_currency="EUR", loa_m=9.5, build_year=1985
    )
    scene.list.exchange_rates = {"USD": "0.9"}
    scene.list.save()
    scene.posted(scene.cast.hal, look("terminals", 3))
    worked_out(scene)
    return scene


def test_it_says_where_the_boats_stand_in_words_and_as_a_picture(priced, at):
    page = Browser(priced.cast.ben).get(at).content.decode()
    assert "A screening by non-experts is not a survey." in page
    assert "The budget is 40,000 EUR" in page
    assert 'role="img" aria-label="Up front probably' in page
    assert "Up to date" in page
    assert f'href="/boats/{priced.heron.pk}"' in page
    assert "open doubt on structure, safety or flooding" in page


def test_an_empty_list_says_what_to_do_first(scene, at):
    Candidate.objects.all().delete()
    assert "First add a boat" in Browser(scene.cast.ben).get(at).content.decode()
    observed = Browser(scene.cast.ivy).get(at).content.decode()
    assert "First somebody who buys adds a boat" in observed
    assert "/boats/new" not in observed


def test_what_was_never_worked_out_says_so(scene, at):
    page = Browser(scene.cast.ben).get(at).content.decode()
    assert "Nothing has been worked out yet" in page
    assert 'data-fresh="false"' in page


def test_the_etag_is_that_of_the_api(priced, at):
    ben = Browser(priced.cast.ben)
    etag = ben.write("GET", f"{at}/next-looks")["ETag"].strip('"')
    assert f'data-held="{etag}"' in ben.get(at).content.decode()


def test_what_others_think_is_not_there_before_ones_own(priced, at):
    """Bea valued both boats; Ben none yet."""
    for boat in (priced.heron, priced.dunlin):
        valuation = {"amount": "34567.00", "currency": "EUR"}
        given = priced.cast.bea.put(f"/candidates/{boat.pk}/valuation", {"valuation": valuation})
        assert given.status_code == 201
    worked_out(priced)
    page = Browser(priced.cast.ben).get(at).content.decode()
    assert "hidden from you" in page
    assert "more to the group" not in page
    assert "more to the group" in Browser(priced.cast.bea).get(at).content.decode()


def test_names_are_text(priced, at):
    Candidate.objects.filter(pk=priced.heron.pk).update(name=EVIL)
    page = Browser(priced.cast.ben).get(at).content.decode()
    assert EVIL not in page
    assert "&lt;b onclick" in page


def test_more_boats_cost_no_more_queries(priced, at):
    ben = Browser(priced.cast.ben)
    ben.get(at)
    few = queries_of(ben, at)
    for n in range(5):
        Candidate.objects.create(
            list=priced.list,
            added_by=priced.cast.ben.person,
            name=f"Boat {n}",
            asking_amount=15_000 + n,
            asking_currency="EUR",
            loa_m=9,
        )
    priced.posted(priced.cast.hal, look("terminals", 2))  # so that it is worked out again
    worked_out(priced)
    assert ben.get(at).content.decode().count("Boat ") > 5
    assert queries_of(ben, at) == few
