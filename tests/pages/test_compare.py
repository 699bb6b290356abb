"""Two boats side by side."""

import uuid

import pytest

from tests.pages.browser import Browser
from tests.pages.test_board import priced  # noqa: F401
from tests.pages.test_every_page import queries_of


@pytest.fixture
def at(priced) -> str:  # noqa: F811
    return f"/lists/{priced.list.pk}/compare"


def test_it_shows_both_in_words(priced, at):  # noqa: F811
    asked = f"{at}?a={priced.dunlin.pk}&b={priced.heron.pk}"
    page = Browser(priced.cast.ben).get(asked).content.decode()
    assert "<h1>Dunlin and Heron</h1>" in page
    assert "<td>ballast inside the moulding</td><td>bolted fin</td>" in page
    assert "<td>20,000 EUR</td><td>20,000 EUR</td>" in page
    assert "A screening by non-experts is not a survey." in page


def test_without_a_choice_it_shows_the_first_two(priced, at):  # noqa: F811
    page = Browser(priced.cast.ivy).get(at).content.decode()
    assert "Heron" in page
    assert "Dunlin" in page


def test_a_boat_of_another_list_is_not_here(priced, at):  # noqa: F811
    for asked in (f"{at}?a={uuid.uuid4()}", f"{at}?a=nonsense"):
        assert Browser(priced.cast.ben).get(asked).status_code == 404
    assert Browser(priced.cast.wim).get(at).status_code == 404


def test_before_anything_is_worked_out_it_says_what_it_will_show(scene):
    page = Browser(scene.cast.ben).get(f"/lists/{scene.list.pk}/compare").content.decode()
    assert "Here two boats stand side by side" in page


def test_asking_again_costs_the_same(priced, at):  # noqa: F811
    ben = Browser(priced.cast.ben)
    queries_of(ben, at)
    assert queries_of(ben, at) < 40
