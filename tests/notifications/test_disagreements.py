"""Disagreements from stored results: who gets them, in which order, and until when."""

import pytest

from apps.appraisal.models import CandidateAppraisal, ListAppraisal
from apps.notifications.mail.writing import urgency
from apps.notifications.models import Notification
from apps.notifications.rules.disagreements import NewestLook, apart, leans, seen
from tests.appraisal.building import check_stored
from tests.notifications.conftest import inbox, types
from tests.system.walk import with_token

DISPUTED = "?kind=disagreement"


def checkpoints(who, query=DISPUTED):
    return {one["facts"]["checkpoint"]: one for one in inbox(who, query)}


def test_it_works(spring, cast, notify):
    """Of Fulmar's keel joint Ben said failed and Bea sound; of the rest they said the same."""
    notify()
    (mine,) = checkpoints(cast.ben).values()
    assert mine["facts"]["checkpoint"] == "keel-joint-line"
    assert mine["facts"]["level"] == 4
    assert mine["facts"]["seen_by"] == [{"person_id": str(cast.bea.person.pk), "level": 0}]
    assert mine["sentence"].startswith("Fulmar, ")
    assert "you saw it failed, Bea saw nothing wrong." in mine["sentence"]
    assert mine["grave"] is True
    (theirs,) = checkpoints(cast.bea).values()
    assert "you saw nothing wrong, Ben saw it failed." in theirs["sentence"]
    # Who did not look at it is not notified.
    assert types(cast.hal, DISPUTED) == types(cast.ola, DISPUTED) == []


def test_a_title_that_asks_is_followed_by_no_colon(spring, cast, notify):
    notify()
    for one in Notification.objects.filter(type="levels_apart"):
        one.facts = {**one.facts, "title": "Does the keel move?"}
        one.save()
    (mine,) = inbox(cast.ben, DISPUTED)
    assert mine["sentence"].startswith("Fulmar, Does the keel move? you saw it failed, Bea")


def test_how_far_a_settling_look_moves_her_cost_is_said_where_it_is_known(spring, cast, notify):
    stored = ListAppraisal.objects.get(pk=spring.yard.list.pk)
    moves = {"amount": "740.00", "currency": "USD"}
    check = check_stored(spring.fulmar, "keel-joint-line", moves)
    stored.cost_looks = {**stored.cost_looks, "checks": [check]}
    stored.save()
    notify()
    (found,) = inbox(cast.ben, DISPUTED)
    assert "Another look is expected to move her cost by 740 USD." in found["sentence"]
    assert found["facts"]["value"] == {"amount": "740.00", "currency": "USD"}


def test_it_ceases_when_one_corrects_what_they_found(spring, cast, notify):
    notify()
    earlier = cast.ben.get(f"/candidates/{spring.fulmar.pk}/submissions").json()["results"]
    (mine,) = [one for one in earlier if one["author"]["id"] == str(cast.ben.person.pk)]
    again = {
        "state": "submitted",
        "supersedes": mine["id"],
        "findings": [{"checkpoint": "keel-joint-line", "kind": "looked", "level": 0}],
    }
    path = f"/viewings/{mine['viewing']}/submissions"
    assert cast.ben.post(path, again).status_code == 201
    notify()
    assert "keel-joint-line" in checkpoints(cast.bea)  # nothing was worked out anew yet
    spring.yard.recompute()
    notify()
    assert "keel-joint-line" not in checkpoints(cast.bea)
    assert "keel-joint-line" in checkpoints(cast.bea, "?open=false")


def test_the_same_dispute_after_new_results_is_no_news(spring, cast, notify):
    notify()
    disputes = Notification.objects.filter(kind="disagreement").values_list(
        "pk", "number", "version"
    )
    before = list(disputes)
    spring.yard.look(spring.skua, cast.bea.person, {"deck-cracks": 1})
    spring.yard.recompute()
    notify()
    assert list(disputes.all()) == before


@pytest.mark.parametrize(
    ("mine", "theirs", "differ"),
    [
        # level and lean; a lean above 0 sees harder, so what is left is the level less the lean
        ((3, 0.0), (1, 0.0), True),
        ((2, 0.0), (1, 0.0), True),
        ((2, 0.6), (1, -0.5), False),  # 1.4 and 1.5: only how they tend to see
        ((2, -0.4), (2, 0.7), False),  # the same words: nothing to talk about
        ((3, 0.3), (2, 0.2), False),  # 2.7 and 1.8: less than a level
    ],
)
def test_lean_is_corrected_for(mine, theirs, differ):
    one, other = (NewestLook("x", level, level - lean) for level, lean in (mine, theirs))
    assert apart(one, other) is differ


def test_only_own_looks_count_the_newest_of_each():
    reports = [
        {"kind": "member", "person_id": "a", "level": 4, "seen_at": "2026-01-01T00:00:00+00:00"},
        {"kind": "member", "person_id": "a", "level": 1, "seen_at": "2026-02-01T00:00:00+00:00"},
        {"kind": "professional", "person_id": "b", "level": 0, "seen_at": "2026-02-01"},
    ]
    assert seen(reports, {"a": 0.25}) == [NewestLook("a", 1, 0.75)]


def test_leans_are_those_of_the_stored_raters(spring, cast):
    stored = ListAppraisal.objects.get(pk=spring.yard.list.pk).raters
    found = leans(stored)
    assert found.keys() >= {str(cast.ben.person.pk), str(cast.bea.person.pk)}
    assert found[str(cast.ben.person.pk)] > found[str(cast.bea.person.pk)]  # he saw harder


def test_what_may_sink_or_hurt_comes_first_then_what_is_valuation_a_look():
    grave, dear, cheap = (
        Notification(weight=2, value=None, number=1),
        Notification(weight=0, value=900, number=2),
        Notification(weight=0, value=10, number=3),
    )
    assert sorted([cheap, dear, grave], key=urgency) == [grave, dear, cheap]


def test_a_limited_token_needs_to_see_findings(spring, cast, notify):
    notify()
    token = with_token(cast.ben.person, scopes=["notifications:read", "lists:read"])
    assert inbox(token, DISPUTED) == []


def test_calls_are_in_no_notification(spring, cast, notify):
    """Ben's call on Fulmar is hidden from Bea, who has not given one."""
    notify()
    assert CandidateAppraisal.objects.exists()
    assert "strike" not in str([one["facts"] for one in inbox(cast.bea)])
