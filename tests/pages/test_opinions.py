"""What people think of the boats: one's own at any time, that of others after it."""

import re

import pytest

from apps.boats.models import Candidate
from apps.pages.boats.boat_findings import has_looked
from apps.viewings.models import Submission
from tests.pages.browser import Browser
from tests.pages.conftest import EVIL
from tests.pages.test_every_page import queries_of
from tests.viewings.conftest import could_not

EUR = {"currency": "EUR"}


@pytest.fixture
def at(scene) -> str:
    return f"/lists/{scene.list.pk}/opinions"


def values(who, boat, amount: str) -> None:
    given = who.put(f"/candidates/{boat.pk}/valuation", {"valuation": {"amount": amount, **EUR}})
    assert given.status_code in (200, 201), given.content


def page_of(who, at: str) -> str:
    return Browser(who).get(at).content.decode()


def test_others_valuations_come_after_ones_own(scene, at):
    values(scene.cast.bea, scene.heron, "34567.00")
    page = page_of(scene.cast.ben, at)
    assert "34,567" not in page
    assert "1 other has said what she is worth: hidden until you have." in page
    values(scene.cast.ben, scene.dunlin, "20000.00")
    assert "34,567" not in page_of(scene.cast.ben, at)
    values(scene.cast.ben, scene.heron, "30000.00")
    assert "Bea: 34,567 EUR" in page_of(scene.cast.ben, at)


def test_others_orders_come_after_ones_own(scene, at):
    boats = [str(scene.heron.pk)], [str(scene.dunlin.pk)]
    assert scene.cast.bea.put(f"/lists/{scene.list.pk}/ballot", {"ranks": boats}).status_code == 201
    assert "Bea: Heron; Dunlin" not in page_of(scene.cast.ben, at)
    assert "1 other has given an order" in page_of(scene.cast.ben, at)
    assert scene.cast.ben.put(f"/lists/{scene.list.pk}/ballot", {"ranks": boats}).status_code == 201
    assert "Bea: Heron; Dunlin" in page_of(scene.cast.ben, at)


def test_others_calls_come_after_ones_own(scene, at):
    scene.posted(scene.cast.bea, could_not("terminals", "poor_light"), vote="strike")
    assert "Bea would strike off" not in page_of(scene.cast.ben, at)
    assert "Bea would strike off" in page_of(scene.cast.bea, at)
    assert Submission.objects.count() == 1


def test_the_organiser_opens_them_for_everybody(scene, at):
    values(scene.cast.bea, scene.heron, "34567.00")
    assert '"opinions_open"' in page_of(scene.cast.ola, at)
    assert '"opinions_open"' not in page_of(scene.cast.ben, at)
    scene.list.opinions_open = True
    scene.list.save()
    for who in (scene.cast.ola, scene.cast.ben, scene.cast.hal, scene.cast.ivy):
        page = page_of(who, at)
        assert "Bea: 34,567 EUR" in page
        assert '"opinions_open"' not in page


def test_only_those_who_buy_have_a_say(scene, at):
    assert "data-order=" in page_of(scene.cast.ben, at)
    for who in (scene.cast.hal, scene.cast.ivy):
        page = page_of(who, at)
        assert "data-order=" not in page
        assert "data-api=" not in page
    for who in (scene.cast.wim, scene.cast.sten):
        assert Browser(who).get(at).status_code == 404


def test_a_buyer_says_what_they_would_do_without_another_look(scene, at):
    """The latest of each counts; one's own shows the others', and is no look."""
    boat_at = f"/boats/{scene.heron.pk}"
    assert "can be said once somebody has been to see her" in page_of(scene.cast.ben, at)
    visit = scene.visit()
    voting = f'data-api="POST /viewings/{visit.pk}/submissions"'
    for shown in (at, boat_at):
        assert voting in page_of(scene.cast.ben, shown)
        assert voting not in page_of(scene.cast.hal, shown)
    for who, votes in ((scene.cast.bea, ["keep", "strike"]), (scene.cast.ben, ["query"])):
        for vote in votes:
            assert "Bea would" not in page_of(scene.cast.ben, at)
            body = {"state": "submitted", "vote": vote, "note": "A call without another look."}
            answer = who.post(f"/viewings/{visit.pk}/submissions", body)
            assert answer.status_code == 201, answer.content
    page = page_of(scene.cast.ben, at)
    assert "Bea would strike off" in page
    assert "Bea would keep" not in page
    assert '<option value="query" selected>' in page
    assert "Bea: strike off" in page_of(scene.cast.ben, boat_at)
    assert not has_looked(scene.cast.ben.person, scene.heron)


def test_my_order_stands_as_i_gave_it_with_ties_and_what_i_left_out(scene, at):
    knot = Candidate.objects.create(
        list=scene.list, added_by=scene.cast.ben.person, name="Knot", loa_m=9
    )
    tied = [[str(knot.pk), str(scene.heron.pk)]]
    scene.cast.ben.put(f"/lists/{scene.list.pk}/ballot", {"ranks": tied})
    page = page_of(scene.cast.ben, at)
    assert re.findall(r"<strong data-name>(\w+)", page) == ["Knot", "Heron", "Dunlin"]
    ticked = re.findall(r'id="(level|out)-([\w-]+)" data-\w+ checked', page)
    assert ticked == [("level", str(scene.heron.pk)), ("out", str(scene.dunlin.pk))]


def test_wants_are_everybodys_and_changed_by_their_owner(scene, at):
    limit = {"kind": "must", "subject": "particular", "key": "draught_m"}
    added = scene.cast.bea.post(
        f"/lists/{scene.list.pk}/wants", {**limit, "test": "at_most", "value": 1.6}
    )
    assert added.status_code == 201
    free = {"kind": "weight", "weight": 4, "subject": "free", "text": EVIL}
    scene.cast.ben.post(f"/lists/{scene.list.pk}/wants", free)
    page = page_of(scene.cast.ben, at)
    assert "Draught at most 1.6 m" in page
    assert "Bea: a must" in page
    assert EVIL not in page
    assert page.count('data-api="DELETE /wants/') == 1
    assert page.count("/judgements/") == 2


def test_an_empty_list_says_what_it_is_for(scene, at):
    Candidate.objects.all().delete()
    assert "There is no boat to have an opinion of yet" in page_of(scene.cast.ben, at)


def test_more_boats_and_opinions_cost_no_more_queries(scene, at):
    ben = Browser(scene.cast.ben)
    free = {"kind": "must", "subject": "free", "text": "standing headroom"}
    for who in (scene.cast.ben, scene.cast.bea):
        values(who, scene.heron, "30000.00")
        who.post(f"/lists/{scene.list.pk}/wants", free)
    few = queries_of(ben, at)
    for n in range(4):
        boat = Candidate.objects.create(
            list=scene.list, added_by=scene.cast.ben.person, name=f"Boat {n}", loa_m=9
        )
        for who in (scene.cast.ben, scene.cast.bea):
            values(who, boat, "30000.00")
            who.post(f"/lists/{scene.list.pk}/wants", free)
    assert queries_of(ben, at) == few
