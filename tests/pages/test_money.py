"""The page of a group's common money."""

import pytest

from tests.pages.browser import Browser
from tests.pages.test_every_page import queries_of


@pytest.fixture
def at(scene):
    return f"/groups/{scene.cast.group.pk}/money"


def opened(scene):
    scene.cast.ola.put(f"/groups/{scene.cast.group.pk}/ledger", {"currency": "EUR"})


def paid_by_ben(scene, what="Ferry"):
    body = {
        "what": what,
        "paid_by": str(scene.cast.ben.person.pk),
        "paid": {"amount": "90.00", "currency": "EUR"},
        "paid_on": "2025-04-20",
        "rule": "equal",
    }
    assert scene.cast.ben.post(f"/groups/{scene.cast.group.pk}/expenses", body).status_code == 201


def test_before_it_is_opened_it_says_what_it_will_show(scene, at):
    page = Browser(scene.cast.ben).get(at).content.decode()
    assert "It moves no money" in page
    assert f'data-api="PUT /groups/{scene.cast.group.pk}/ledger"' in page


def test_it_says_who_owes_whom_and_what_was_paid(scene, at):
    opened(scene)
    paid_by_ben(scene)
    page = Browser(scene.cast.bea).get(at).content.decode()
    assert "Bea pays Ben 30.00 EUR" in page
    assert "Ola pays Ben 30.00 EUR" in page
    assert "1. Ferry" in page
    assert f"/api/v1/groups/{scene.cast.group.pk}/ledger.csv" in page


def test_helpers_and_observers_do_not_see_it(scene, at):
    opened(scene)
    for who in (scene.cast.hal, scene.cast.ivy, scene.cast.wim):
        assert Browser(who).get(at).status_code == 404


def test_it_takes_as_many_queries_for_one_entry_as_for_many(scene, at):
    opened(scene)
    paid_by_ben(scene)
    ben = Browser(scene.cast.ben)
    ben.get(at)
    one = queries_of(ben, at)
    for n in range(4):
        paid_by_ben(scene, f"Ferry {n}")
    assert queries_of(ben, at) == one


def test_the_form_has_every_rule_and_other_currencies(scene, at):
    opened(scene)
    page = Browser(scene.cast.ben).get(at).content.decode()
    assert 'data-unless="rule=equal,shares"' in page
    assert 'data-unless="paid.amount-currency=EUR"' in page
    assert (
        f'name="weights.0.person" value="{scene.cast.ola.person.pk}"' in page or "weights.4" in page
    )
    assert "exchange.known_from" in page
    assert f'<option value="{scene.heron.pk}">Heron</option>' in page
