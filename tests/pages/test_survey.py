"""The page of a boat's survey."""

import pytest

from apps.appraisal.jobs import list_recompute
from tests.pages.browser import Browser
from tests.pages.test_every_page import queries_of
from tests.surveys.conftest import commissioned, opened, reported
from tests.viewings.conftest import look


@pytest.fixture
def at(scene):
    return f"/boats/{scene.heron.id}/survey"


def page_of(who, at):
    answer = Browser(who).get(at)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_before_anything_it_says_what_to_do_first(scene, at):
    page = page_of(scene.cast.ben, at)
    assert "You have not voted on a survey of her" in page
    assert "Whoever buys chooses and pays the surveyor" in page
    assert f'data-api="POST /candidates/{scene.heron.id}/survey-votes"' in page
    assert f'data-api="POST /candidates/{scene.heron.id}/surveys"' in page
    assert "judgement stands above the group's screening" in page.replace("&#x27;", "'")


def test_a_vote_is_hidden_until_it_is_closed(scene, at):
    vote = opened(scene).json()["id"]
    scene.cast.ola.put(f"/survey-votes/{vote}/ballot", {"choice": "no", "note": "Too far off"})
    page = page_of(scene.cast.bea, at)
    assert "1 vote so far. You see the others' once the vote is closed." in page
    assert "Too far off" not in page
    assert "Count and close" not in page
    assert "Count and close" in page_of(scene.cast.ola, at)
    scene.cast.ola.post(f"/survey-votes/{vote}/closing", {})
    assert "Too far off" in page_of(scene.cast.bea, at)


def test_it_shows_the_report_beside_what_was_seen(scene, at):
    scene.posted(scene.cast.bea, look("joint", 1))
    survey = commissioned(scene).json()["id"]
    reported(scene, f"/surveys/{survey}")
    list_recompute(list_id=scene.list.pk)
    page = page_of(scene.cast.ivy, at)
    assert "before she is used" in page
    assert "1,600 to 3,600 EUR" in page
    assert "missed by you" in page
    assert "trouble confirmed" in page
    assert "How your looks are read now" in page
    assert "Enter the report" not in page


def test_the_fee_goes_into_the_common_money(scene, at):
    commissioned(scene)
    path = f"/groups/{scene.cast.group.pk}"
    assert "once it is paid" in page_of(scene.cast.ben, at)
    scene.cast.ola.put(f"{path}/ledger", {"currency": "EUR"})
    assert f'data-api="POST {path}/expenses"' in page_of(scene.cast.ben, at).replace("/api/v1", "")
    body = {
        "what": "Survey of Heron",
        "purpose": "survey",
        "candidate": str(scene.heron.pk),
        "paid_by": str(scene.cast.ben.person.pk),
        "paid": {"amount": "850.00", "currency": "EUR"},
        "paid_on": "2025-04-20",
        "rule": "shares",
    }
    assert scene.cast.ben.post(f"{path}/expenses", body).status_code == 201
    assert "Survey of Heron, 850.00 EUR by Ben" in page_of(scene.cast.bea, at)
    # Observers see what was agreed, and nothing of the common money.
    assert "850.00 EUR by Ben" not in page_of(scene.cast.ivy, at)


def test_only_who_entered_the_report_is_offered_to_correct_it(scene, at):
    survey = commissioned(scene).json()["id"]
    reported(scene, f"/surveys/{survey}")
    assert "Correct the report" in page_of(scene.cast.ben, at)
    assert "Correct the report" not in page_of(scene.cast.bea, at)


def test_it_takes_few_queries_for_each_survey(scene, at):
    """The comparison reads the findings of the list: a boat has few surveys."""
    ben = Browser(scene.cast.ben)
    commissioned(scene)
    ben.get(at)
    one = queries_of(ben, at)
    for kind in ("rig", "engine", "sails"):
        commissioned(scene, kind=kind)
    assert queries_of(ben, at) == one
