"""The page with what to offer for a boat, and what was offered."""

import pytest

from apps.appraisal.jobs import list_recompute
from tests.pages.browser import Browser
from tests.pages.test_every_page import queries_of


@pytest.fixture
def at(scene):
    return f"/boats/{scene.heron.pk}/offers"


def offer(scene, amount="17500.00", **more):
    body = {
        "price": {"amount": amount, "currency": scene.list.currency},
        "offered_on": "2025-05-02",
        "conditions": [{"code": "survey", "until": "2025-05-20"}],
        **more,
    }
    made = scene.cast.ben.post(f"/candidates/{scene.heron.pk}/offers", body)
    assert made.status_code == 201, made.content
    return made.json()


def page_of(who, at):
    return Browser(who).get(at).content.decode()


def test_before_any_offer_it_says_what_holds_for_every_offer(scene, at):
    page = page_of(scene.cast.ben, at)
    assert "survey of your own choosing" in page
    assert "law of the place of sale" in page
    assert "nobody has named a price" in page
    assert f'data-api="POST /candidates/{scene.heron.pk}/offers"' in page


def test_the_offer_on_the_table_and_the_ones_before(scene, at):
    offer(scene)
    live = offer(scene, "18000.00", side="seller", note="By telephone")
    page = page_of(scene.cast.ben, at)
    assert "The seller asked: 18,000" in page
    assert "We offered 17,500" in page
    assert "a survey that satisfies us by 20 May 2025" in page
    assert f'data-api="PATCH /offers/{live["id"]}"' in page


def test_beside_the_condition_stands_whether_a_sea_trial_was_made(scene, at):
    offer(scene, conditions=[{"code": "sea_trial"}])
    assert "a sea trial (none was made)" in page_of(scene.cast.ben, at)
    trial = scene.visit(kind="sea_trial", where="afloat", state="planned")
    assert "a sea trial (planned for 8 March 2025)" in page_of(scene.cast.ben, at)
    trial.state = "made"
    trial.save()
    scene.visit(kind="sea_trial", where="afloat", state="called_off")
    assert "a sea trial (made on 8 March 2025)" in page_of(scene.cast.ben, at)


def test_who_may_not_write_gets_no_form(scene, at):
    offer(scene)
    page = page_of(scene.cast.ivy, at)
    assert "We offered 17,500" in page
    assert "data-api=" not in page
    assert Browser(scene.cast.wim).get(at).status_code == 404


def test_it_takes_as_many_queries_for_one_offer_as_for_many(scene, at):
    offer(scene)
    ben = Browser(scene.cast.ben)
    ben.get(at)
    one = queries_of(ben, at)
    for n in range(4):
        offer(scene, f"{18_000 + n}.00")
    assert queries_of(ben, at) == one


def test_each_condition_has_a_day_by_which_it_is_to_be_met(scene, at):
    page = page_of(scene.cast.ben, at)
    assert 'data-beside="until=new-survey-until"' in page
    assert '<input type="date" id="new-survey-until">' in page


def test_it_says_why_there_is_no_advice(scene, at):
    page = page_of(scene.cast.ben, at)
    assert "It is not worked out yet." in page
    scene.heron.asking_amount = None
    scene.heron.save()
    list_recompute(list_id=scene.list.pk)
    page = page_of(scene.cast.ben, at)
    assert "She cannot be priced: nobody gave an asking price" in page
    assert "Give it on" in page
