"""The inbox by HTTP: read, filtered, marked."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.boats.services import price_add, stage_change
from tests.conftest import pointers
from tests.notifications.conftest import everything_read, inbox, told, types
from tests.system.walk import with_token


@pytest.fixture
def news(yard, cast, notify):
    """Ben noted a price and a stage: two notifications for Bea."""
    petrel = yard.boat("Petrel", 26_000)
    notify()
    everything_read(cast)
    price_add(candidate=petrel, by=cast.ben.person, amount=Decimal(25_000), currency="USD")
    stage_change(candidate=petrel, by=cast.ben.person, stage="shortlisted")
    notify()
    return petrel


def page(who, query="?read=false"):
    answer = who.get(f"/notifications{query}")
    assert answer.status_code == 200, answer.content
    return answer.json()


def test_it_works(news, cast):
    found = page(cast.bea)
    assert {one["type"] for one in found["results"]} == {"price_changed", "stage_changed"}
    assert found["unread"] == 2
    assert found["last"] == max(one["number"] for one in found["results"])
    assert "not a survey" in found["caution"]
    one = cast.bea.get(f"/notifications/{found['results'][0]['id']}")
    assert one.json() == found["results"][0]
    assert one.json()["group"]["name"] == "Tern"


def test_filters(news, cast):
    assert len(page(cast.bea, "?read=false&kind=changed")["results"]) == 2
    assert page(cast.bea, "?kind=disagreement")["results"] == []
    assert len(page(cast.bea, f"?read=false&group={cast.group.id}")["results"]) == 2
    assert page(cast.bea, f"?group={cast.other_group.id}")["results"] == []
    assert pointers(cast.bea.get("/notifications?kind=gossip")) == {"?kind"}


def test_mark_one_as_read_and_back(news, cast):
    at = f"/notifications/{told(cast.bea, 'price_changed', '?read=false')['id']}"
    read = cast.bea.change("PATCH", at, {"read": True})
    assert (read.status_code, read.json()["read"], read.json()["done"]) == (200, True, False)
    assert page(cast.bea)["unread"] == 1
    assert cast.bea.change("PATCH", at, {"read": False}).json()["read"] is False
    done = cast.bea.change("PATCH", at, {"done": True}).json()
    assert (done["read"], done["done"]) == (True, True)
    assert "price_changed" not in types(cast.bea, "?read=false")
    assert "price_changed" in types(cast.bea, "?open=false")


def test_what_was_added_to_meanwhile_is_not_marked_unseen(news, cast, notify):
    at = f"/notifications/{told(cast.bea, 'price_changed', '?read=false')['id']}"
    seen = cast.bea.get(at)["ETag"]
    price_add(candidate=news, by=cast.ola.person, amount=Decimal(24_000), currency="USD")
    notify()
    assert cast.bea.patch(at, {"read": True}, If_Match=seen).status_code == 412
    assert cast.bea.patch(at, {"read": True}).status_code == 428


def test_back_to_unread_where_a_newer_one_is(news, cast, notify):
    at = f"/notifications/{told(cast.bea, 'price_changed', '?read=false')['id']}"
    cast.bea.change("PATCH", at, {"read": True})
    price_add(candidate=news, by=cast.ola.person, amount=Decimal(24_000), currency="USD")
    notify()
    refused = cast.bea.change("PATCH", at, {"read": False})
    assert (refused.status_code, refused.json()["code"]) == (409, "notified_anew")


def test_mark_all_up_to_a_point(news, cast, notify):
    last = page(cast.bea)["last"]
    stage_change(candidate=news, by=cast.ola.person, stage="viewing")  # folds: a later number
    notify()
    marked = cast.bea.post("/notification-marks", {"up_to": last})
    assert marked.status_code == 200, marked.content
    assert marked.json() == {"marked": 1, "unread": 1}
    assert types(cast.bea, "?read=false") == ["stage_changed"]
    done = cast.bea.post("/notification-marks", {"up_to": page(cast.bea)["last"], "done": True})
    assert done.json()["unread"] == 0
    assert inbox(cast.bea) == []


def test_a_repeat_marks_once(news, cast):
    body = {"up_to": page(cast.bea)["last"]}
    first = cast.bea.post("/notification-marks", body, Idempotency_Key="a")
    again = cast.bea.post("/notification-marks", body, Idempotency_Key="a")
    assert again["Idempotent-Replay"] == "true"
    assert first.json() == again.json()


def test_bad_input(news, cast):
    assert pointers(cast.bea.post("/notification-marks", {})) == {"/up_to"}
    assert pointers(cast.bea.post("/notification-marks", {"up_to": -1})) == {"/up_to"}
    at = f"/notifications/{told(cast.bea, 'price_changed', '?read=false')['id']}"
    assert pointers(cast.bea.change("PATCH", at, {"read": "perhaps"})) == {"/read"}


def test_others_notifications_do_not_exist(news, cast):
    at = f"/notifications/{told(cast.bea, 'price_changed', '?read=false')['id']}"
    for who in (cast.ben, cast.ola, cast.ivy, cast.wim, cast.sten):
        assert who.get(at).status_code == 404
        assert who.patch(at, {"read": True}, If_Match="*").status_code == 404
    assert cast.nobody.get(at).status_code == 401
    assert cast.nobody.get("/notifications").status_code == 401


def test_a_limited_token_shows_only_what_its_scopes_open(news, cast, notify):
    found = told(cast.bea, "price_changed", "?read=false")
    blind = with_token(cast.bea.person, scopes=["notifications:read"])
    assert page(blind, "")["results"] == []
    assert page(blind)["unread"] == 0
    assert blind.get(f"/notifications/{found['id']}").status_code == 404
    seeing = with_token(cast.bea.person, scopes=["notifications:read", "lists:read"])
    assert len(page(seeing)["results"]) == 2
    refused = seeing.post("/notification-marks", {"up_to": 1})
    assert (refused.status_code, refused.json()["scope"]) == (403, "notifications:manage")


def test_more_notifications_take_no_more_queries(news, cast, notify, yard):
    def queries():
        with CaptureQueriesContext(connection) as captured:
            page(cast.bea, "?read=false&limit=200")
        return len(captured)

    few = queries()
    for n in range(9):
        boat = yard.boat(f"Boat {n}", 30_000)
        stage_change(candidate=boat, by=cast.ben.person, stage="shortlisted")
    notify()
    assert len(page(cast.bea, "?read=false&limit=200")["results"]) > 10
    assert queries() == few
