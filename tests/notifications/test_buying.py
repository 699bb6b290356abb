"""Notifications about what is settled before buying, and about common money."""

from datetime import UTC, datetime

import pytest

from tests.notifications.conftest import inbox, told, types
from tests.notifications.test_waiting import at


@pytest.fixture
def boat(yard):
    return yard.boat("Petrel", 26_000)


def gate(cast, boat, code="debts", **said):
    path = f"/candidates/{boat.pk}/gates/{code}"
    first = cast.ben.get(path).status_code == 404
    answer = cast.ben.put(path, said) if first else cast.ben.change("PUT", path, said)
    assert answer.status_code in (200, 201), answer.content


def test_a_gate_is_due_the_day_before_and_once_more_when_its_day_is_over(
    boat, cast, notify, monkeypatch
):
    gate(cast, boat, due_on="2031-06-10")
    gate(cast, boat, "title")
    notify()
    assert "gate_due" not in types(cast.bea)
    at(datetime(2031, 6, 9, 0, 1, tzinfo=UTC), monkeypatch, notify)
    said = told(cast.bea, "gate_due")["sentence"]
    assert said == (
        "Petrel: “Debts on her” is due 2031-06-10 and is still open. The law of the place of sale "
        "governs."
    )
    assert "gate_due" not in types(cast.hal), "a helper cannot settle it"
    at(datetime(2031, 6, 11, 0, 1, tzinfo=UTC), monkeypatch, notify)
    live = inbox(cast.bea)
    sentences = [one["sentence"] for one in live if one["type"] == "gate_due"]
    assert any("was due 2031-06-10" in one for one in sentences)
    gate(cast, boat, settled=True, checked_by="the registry", due_on="2031-06-10")
    at(datetime(2031, 6, 11, 0, 2, tzinfo=UTC), monkeypatch, notify)
    assert "gate_due" not in types(cast.bea)


def test_neither_what_is_not_needed_nor_a_boat_that_is_struck_off_is_due(
    boat, cast, notify, monkeypatch
):
    gate(cast, boat, due_on="2031-06-10", needed=False)
    at(datetime(2031, 6, 10, tzinfo=UTC), monkeypatch, notify)
    assert "gate_due" not in types(cast.bea)
    gate(cast, boat, due_on="2031-06-10")
    off = {"stage": "struck_off", "reason": "Sold to others"}
    assert cast.ben.post(f"/candidates/{boat.pk}/stage-changes", off).status_code == 201
    at(datetime(2031, 6, 10, 1, tzinfo=UTC), monkeypatch, notify)
    assert "gate_due" not in types(cast.bea)


def test_those_who_keep_the_money_hear_of_new_entries(boat, cast, notify):
    group = f"/groups/{cast.group.pk}"
    cast.ben.put(f"{group}/ledger", {"currency": "EUR"})
    notify()
    paid = {
        "paid_by": str(cast.ben.person.pk),
        "paid": {"amount": "90.00", "currency": "EUR"},
        "paid_on": "2025-04-20",
    }
    expense = {**paid, "what": "Ferry", "rule": "equal"}
    assert cast.ben.post(f"{group}/expenses", expense).status_code == 201
    payment = {**paid, "to": str(cast.bea.person.pk)}
    assert cast.ben.post(f"{group}/payments", payment).status_code == 201
    notify()
    assert told(cast.bea, "money_entered")["sentence"] == (
        "Tern: Ben wrote 2 entries in the common money. See who owes whom now."
    )
    assert "money_entered" not in types(cast.ben)
    assert "money_entered" not in types(cast.ivy)
