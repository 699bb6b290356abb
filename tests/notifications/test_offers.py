"""Notifications of prices that were named for a boat, and of what became of them."""

from datetime import date

from apps.purchase.offers.services import offers_lapse
from tests.notifications.conftest import everything_read, inbox


def offer(petrel, who, **more):
    body = {"price": {"amount": "20000.00", "currency": "USD"}, "offered_on": "2025-05-02", **more}
    made = who.post(f"/candidates/{petrel.pk}/offers", body)
    assert made.status_code == 201, made.content
    return made.json()


def unread(who):
    found = inbox(who, "?read=false&kind=changed")
    return next(one["sentence"] for one in found if one["type"] == "offer_changed")


def test_it_works(petrel, cast, notify):
    made = offer(petrel, cast.ben)
    notify()
    said = unread(cast.bea)
    assert said == "Petrel: you offered a price for her. Ben wrote it down."
    assert "offer_changed" not in [one["type"] for one in inbox(cast.ben)]
    everything_read(cast)
    cast.bea.change("PATCH", f"/offers/{made['id']}", {"state": "refused"})
    notify()
    said = unread(cast.ben)
    assert said == "Petrel: your offer was refused. Bea wrote it down."


def test_a_counter_is_told_of_once(petrel, cast, notify):
    offer(petrel, cast.ben)
    notify()
    everything_read(cast)
    offer(petrel, cast.ben, side="seller")
    notify()
    assert "the seller named a price" in unread(cast.bea)


def test_everybody_is_told_that_it_lapsed(petrel, cast, notify):
    offer(petrel, cast.ben, answer_by="2025-05-09")
    notify()
    everything_read(cast)
    offers_lapse(date(2025, 5, 10))
    notify()
    for who in (cast.ben, cast.bea):
        said = unread(who)
        assert said == "Petrel: your offer was not answered in time."
