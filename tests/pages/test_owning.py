"""The pages of what owners settle and do together."""

import pytest

from tests.pages.browser import Browser, inline_in
from tests.pages.test_every_page import queries_of


@pytest.fixture
def group(scene):
    return scene.cast.group.pk


@pytest.fixture
def boat(scene):
    return scene.heron.pk


def page(who, at):
    answer = Browser(who).get(at)
    assert answer.status_code == 200
    text = answer.content.decode()
    assert inline_in(text) == []
    return text


def test_the_sheet_says_what_waits_for_whom(scene, group):
    cast, at = scene.cast, f"/groups/{group}/agreement"
    empty = page(cast.ben, at)
    assert "No legal advice" in empty
    assert empty.count("nothing written yet") == 13
    topic = f"/groups/{group}/agreement/arrears"
    cast.ben.put(topic, {"text": "No sailing after 30 days."})
    cast.ben.post(f"{topic}/consents", {"wording": 1})
    asked = page(cast.bea, at)
    assert "waits for you" in asked
    assert f'data-api="POST {topic}/consents"' in asked
    assert f'data-api="POST {topic}/consents"' not in page(cast.ben, at)


def test_the_sheet_takes_as_many_queries_for_one_topic_as_for_many(scene, group):
    ben, at = Browser(scene.cast.ben), f"/groups/{group}/agreement"
    taken = []
    for topic in ("arrears", "berth", "use"):
        scene.cast.ben.put(f"/groups/{group}/agreement/{topic}", {"text": "As we said."})
        ben.get(at)
        taken.append(queries_of(ben, at))
    assert len(set(taken)) == 1


def test_the_handover_shows_what_is_missing(scene, boat):
    cast, at = scene.cast, f"/boats/{boat}/handover"
    assert "Nothing is on the list yet" in page(cast.ben, at)
    item = {"kind": "key", "what": "Key of the shed", "promised": 2}
    made = cast.ben.post(f"/candidates/{boat}/handover-items", item).json()
    cast.bea.change("PATCH", f"/handover-items/{made['id']}", {"found": 1})
    shown = page(cast.ben, at)
    assert "missing: 1 of 2" in shown
    assert f'data-api="PATCH /handover-items/{made["id"]}"' in shown
    assert "data-api" not in page(cast.ivy, at).partition("<main")[2]


def test_the_season_of_a_boat_that_cannot_be_priced_says_why(scene, boat):
    shown = page(scene.cast.ben, f"/boats/{boat}/season")
    assert "Then this page shows what to do in which month" in shown
    assert f'data-api="PUT /candidates/{boat}/season-settings"' in shown
