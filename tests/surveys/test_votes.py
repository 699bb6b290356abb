"""Votes on a survey."""

import uuid
from fractions import Fraction

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from apps.events.models import Event
from apps.groups.models import Membership
from apps.surveys.counting import count
from apps.surveys.models import SurveyBallot, SurveyVote
from tests.conftest import pointers
from tests.surveys.conftest import opened, set_shares


@pytest.fixture
def at(scene):
    set_shares(scene, ola="0.5", ben="0.3", bea="0.2")
    return f"/survey-votes/{opened(scene).json()['id']}"


def test_it_works(scene, at):
    for who, choice in ((scene.cast.ben, "yes"), (scene.cast.ola, "no"), (scene.cast.bea, "yes")):
        given_by = who.put(f"{at}/ballot", {"choice": choice, "note": "My view"})
        assert given_by.status_code == 201, given_by.content
    closed = scene.cast.ben.post(f"{at}/closing", {"note": "All have voted"})
    assert closed.status_code == 200, closed.content
    said = closed.json()
    # 0.5 in favour, 0.5 against: a tie rejects.
    assert (said["outcome"], said["in_favour"], said["against"]) == (
        "rejected",
        "0.500000",
        "0.500000",
    )
    assert (said["turnout"], said["closed_by"]["name"]) == ("1.000000", "Ben")
    weights = {one["person"]["name"]: one["weight"] for one in said["ballots"]}
    assert weights == {"Ola": "0.500000", "Ben": "0.300000", "Bea": "0.200000"}
    assert scene.cast.ivy.get(at).json() == said
    assert Event.objects.latest("number").kind == "survey_vote.closed"


def test_by_heads_everybody_counts_the_same(scene):
    set_shares(scene, ola="0.5", ben="0.3", bea="0.2")
    at = f"/survey-votes/{opened(scene, counted_by='heads', quorum='0.666667').json()['id']}"
    scene.cast.ben.put(f"{at}/ballot", {"choice": "yes"})
    scene.cast.bea.put(f"{at}/ballot", {"choice": "abstain"})
    said = scene.cast.ola.post(f"{at}/closing", {}).json()
    # Two of three are the quorum of two thirds, and an abstention is part of it.
    assert (said["outcome"], said["turnout"]) == ("accepted", "0.666666")


def test_too_few_decide_nothing(scene, at):
    scene.cast.ben.put(f"{at}/ballot", {"choice": "yes"})
    assert scene.cast.ben.post(f"{at}/closing", {}).json()["outcome"] == "no_quorum"


def test_it_is_called_off(scene, at):
    scene.cast.ola.put(f"{at}/ballot", {"choice": "yes"})
    said = scene.cast.ben.post(f"{at}/closing", {"call_off": True}).json()
    assert (said["outcome"], said["in_favour"]) == ("called_off", "0.500000")
    assert opened(scene).status_code == 201  # another may follow


def test_ballots_are_hidden_until_the_closing(scene, at):
    scene.cast.ola.put(f"{at}/ballot", {"choice": "no"})
    assert Event.objects.latest("number").only_for == scene.cast.ola.person.pk
    for who, shown in ((scene.cast.ola, 1), (scene.cast.ivy, 0), (scene.cast.bea, 0)):
        seen = who.get(at).json()
        assert (len(seen["ballots"]), seen["hidden"]) == (shown, 1 - shown)
    # Having voted opens nothing, because one may still change one's own.
    scene.cast.bea.put(f"{at}/ballot", {"choice": "yes"})
    seen = scene.cast.bea.get(at).json()
    assert ([one["choice"] for one in seen["ballots"]], seen["hidden"]) == (["yes"], 1)
    scene.cast.ben.post(f"{at}/closing", {})
    assert len(scene.cast.ivy.get(at).json()["ballots"]) == 2


def test_the_organiser_may_open_them(scene, at):
    scene.cast.ola.put(f"{at}/ballot", {"choice": "no"})
    scene.list.opinions_open = True
    scene.list.save()
    assert len(scene.cast.ivy.get(at).json()["ballots"]) == 1
    scene.cast.ben.put(f"{at}/ballot", {"choice": "yes"})
    assert Event.objects.latest("number").only_for is None


def test_a_ballot_is_changed_until_the_closing(scene, at):
    scene.cast.ben.put(f"{at}/ballot", {"choice": "no"})
    changed = scene.cast.ben.change("PUT", f"{at}/ballot", {"choice": "yes"})
    assert (changed.status_code, changed.json()["choice"]) == (200, "yes")
    assert scene.cast.ben.get(f"{at}/ballot").json() == changed.json()
    scene.cast.ben.post(f"{at}/closing", {})
    late = scene.cast.ben.change("PUT", f"{at}/ballot", {"choice": "no"})
    assert (late.status_code, late.json()["code"]) == (409, "vote_closed")
    again = scene.cast.ben.post(f"{at}/closing", {})
    assert (again.status_code, again.json()["code"]) == (409, "vote_closed")
    assert SurveyBallot.objects.get().choice == "yes"


def test_stale_and_missing_versions(scene, at):
    first = scene.cast.ben.put(f"{at}/ballot", {"choice": "no"})
    scene.cast.ben.change("PUT", f"{at}/ballot", {"choice": "abstain"})
    stale = scene.cast.ben.put(f"{at}/ballot", {"choice": "yes"}, If_Match=first["ETag"])
    assert stale.status_code == 412
    assert scene.cast.ben.put(f"{at}/ballot", {"choice": "yes"}).status_code == 428
    assert SurveyBallot.objects.get().choice == "abstain"


def test_one_vote_at_a_time(scene, at):
    second = opened(scene, scene.cast.ola)
    assert (second.status_code, second.json()["code"]) == (409, "vote_open")
    with pytest.raises(IntegrityError), transaction.atomic():
        SurveyVote.objects.create(
            candidate=scene.heron, counted_by="heads", quorum=1, opened_by=scene.cast.ben.person
        )


def test_a_repeat_opens_no_second(scene):
    body = {"counted_by": "heads"}
    path = f"/candidates/{scene.heron.id}/survey-votes"
    first = scene.cast.ben.post(path, body, Idempotency_Key="once")
    again = scene.cast.ben.post(path, body, Idempotency_Key="once")
    assert first.json() == again.json()
    assert SurveyVote.objects.count() == 1


def test_who_left_is_not_counted(scene, at):
    for who in (scene.cast.ben, scene.cast.ola):
        who.put(f"{at}/ballot", {"choice": "yes"})
    Membership.objects.filter(person=scene.cast.ben.person).update(ended_at=timezone.now())
    said = scene.cast.ola.post(f"{at}/closing", {}).json()
    # Ola has 0.5 of the 0.7 that are left.
    assert (said["in_favour"], said["outcome"]) == ("0.714286", "accepted")
    weights = {one["person"]["name"]: one["weight"] for one in said["ballots"]}
    assert weights["Ben"] == "0.000000"


def test_refused(scene):
    for quorum in ("0", "1.5"):
        assert pointers(opened(scene, quorum=quorum)) == {"/quorum"}
    assert pointers(opened(scene, counted_by="acclaim")) == {"/counted_by"}
    assert pointers(opened(scene, stage="x")) == {"/stage"}


def test_only_buyers_vote(scene, at):
    for who in (scene.cast.ivy, scene.cast.hal):
        assert who.put(f"{at}/ballot", {"choice": "yes"}).status_code == 403
        assert opened(scene, who).status_code == 403
    # Bea neither opened the vote nor leads the group.
    refused = scene.cast.bea.post(f"{at}/closing", {})
    assert (refused.status_code, refused.json()["roles"]) == (403, ["organiser"])


def test_it_does_not_exist_for_strangers(scene, at):
    for stranger in (scene.cast.sten, scene.cast.wim):
        assert opened(scene, stranger).status_code == 404
        for path in (at, f"{at}/ballot", f"/candidates/{scene.heron.id}/survey-votes"):
            assert stranger.get(path).status_code == 404
        assert stranger.put(f"{at}/ballot", {"choice": "yes"}).status_code == 404
        assert stranger.post(f"{at}/closing", {}).status_code == 404
    assert scene.cast.nobody.get(at).status_code == 401


def test_as_many_queries_for_many_votes(scene, at):
    path = f"/candidates/{scene.heron.id}/survey-votes"

    def queries():
        with CaptureQueriesContext(
            connection,
        ) as made:
            assert scene.cast.ben.get(path).status_code == 200
        return len(made)

    scene.cast.ben.put(f"{at}/ballot", {"choice": "yes"})
    one = queries()
    for _ in range(3):
        scene.cast.ola.post(f"{at}/closing", {})
        at = f"/survey-votes/{opened(scene).json()['id']}"
        scene.cast.bea.put(f"{at}/ballot", {"choice": "yes"})
    assert queries() == one


# --- The counting ----------------------------------------------------------------------------

PEOPLE = [uuid.UUID(int=n) for n in range(6)]


@given(
    st.dictionaries(st.sampled_from(PEOPLE), st.sampled_from(["yes", "no", "abstain"])),
    st.lists(st.integers(0, 100), min_size=6, max_size=6).filter(any),
    st.integers(1, 100),
)
def test_the_count_is_exact(choices, points, percent):
    weights = {
        person: Fraction(point, sum(points)) for person, point in zip(PEOPLE, points, strict=True)
    }
    quorum = Fraction(percent, 100)
    counted = count(choices, weights, quorum)
    voted = sum(weights[person] for person in choices)
    assert counted.in_favour + counted.against + counted.abstained == voted
    if round(voted * 10**6) < round(quorum * 10**6):
        assert counted.outcome == "no_quorum"
    else:
        assert (counted.outcome == "accepted") == (counted.in_favour > counted.against)
    # Whoever turns from against to in favour never turns an acceptance down.
    if counted.outcome == "accepted":
        turned = {p: "yes" if c == "no" else c for p, c in choices.items()}
        assert count(turned, weights, quorum).outcome == "accepted"
