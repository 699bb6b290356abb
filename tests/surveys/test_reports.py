"""Reports of professionals, entered in one request."""

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.appraisal.compute.arrays import list_arrays
from apps.appraisal.compute.inputs import read_inputs
from apps.appraisal.compute.statements import judgements
from apps.purchase.facts import list_quotes
from apps.purchase.models import Quote
from apps.surveys.models import SurveyFinding, SurveyReport
from apps.viewings.doubts import open_doubts
from apps.viewings.models import Submission, Viewing
from tests.conftest import pointers
from tests.surveys.conftest import commissioned, quoted_by_the_yard, reported
from tests.viewings.conftest import look

LOOKED_ON = date(2025, 4, 12)


@pytest.fixture
def at(scene):
    return f"/surveys/{commissioned(scene).json()['id']}"


def test_it_works(scene, at):
    before = scene.revision()
    made = reported(scene, at)
    assert made.status_code == 201, made.content
    said = made.json()
    assert (said["number"], said["entered_by"]["name"]) == (1, "Ben")
    joint, smell = said["findings"]
    assert (joint["checkpoint"], joint["level"], joint["urgency"]) == ("joint", 3, "before_use")
    assert (smell["checkpoint"], smell["level"], smell["words"]) == (
        None,
        None,
        "The cushions smell.",
    )
    assert scene.cast.ivy.get(f"{at}/reports").json()["results"] == [said]
    assert scene.cast.ivy.get(at).json()["report"] == said["id"]
    assert scene.revision() > before


def test_its_findings_are_a_professionals_submission(scene, at):
    reported(scene, at)
    submission = Submission.objects.get()
    assert (submission.state, submission.capacity, submission.profession) == (
        "submitted",
        "professional",
        "surveyor",
    )
    finding = submission.findings.get()
    assert (finding.checkpoint_id, finding.level, finding.sureness) == ("joint", 3, "sure")
    viewing = submission.viewing
    assert (viewing.state, viewing.where, viewing.candidate) == ("made", "ashore", scene.heron)


def test_a_cost_of_a_remedy_counts_as_an_estimate_of_it(scene, at):
    reported(scene, at)
    (quote,) = list_quotes(scene.list.pk)
    # The geometric mean of 1600 and 3600.
    assert (quote.remedy, quote.amount, quote.low, quote.high) == ("rebed", 2400, 1600, 3600)
    assert (quote.firmness, quote.from_whom) == ("estimate", "The surveyor of the harbour")
    assert quote.surveyed_on == LOOKED_ON
    shown = scene.cast.ivy.get(f"/quotes/{quote.id}").json()
    assert (shown["low"], shown["high"]) == ("1600.00", "3600.00")


def test_a_yards_quote_stands_above_a_surveyors_estimate(scene, at):
    assert quoted_by_the_yard(scene, "2000.00", "2025-03-01").status_code == 201
    reported(scene, at)
    (quote,) = list_quotes(scene.list.pk)
    assert (quote.amount, quote.low, quote.surveyed_on) == (2000, None, LOOKED_ON)


def test_a_measured_value_gives_the_level_as_a_members_does(scene, at):
    """0.1 in are 2.54 mm: level 3 on the scale."""
    read = {"checkpoint": "joint", "measured": {"value": 0.1, "unit": "in"}, "words": "Aft."}
    made = reported(scene, at, findings=[read])
    assert made.status_code == 201, made.content
    (said,) = made.json()["findings"]
    assert (said["level"], said["measured"]) == (None, {"value": 0.1, "unit": "in"})
    finding = Submission.objects.get().findings.get()
    assert (finding.level, finding.measured_value, finding.measured_unit) == (3, 0.1, "in")
    arrays = list_arrays(read_inputs(scene.list.pk))
    (judged,) = judgements(arrays.statements, arrays.checkpoints).values()
    assert (judged.grader.kind, judged.level) == ("meter", 3)


@pytest.mark.parametrize(
    ("finding", "pointer"),
    [
        ({"checkpoint": "joint", "measured": {"value": 1, "unit": "kg"}}, "measured/unit"),
        ({"checkpoint": "joint", "measured": {"value": 101, "unit": "mm"}}, "measured/value"),
        ({"checkpoint": "joint", "measured": {"value": 1}}, "measured/unit"),
        (
            {"checkpoint": "iron", "level": 1, "measured": {"value": 1, "unit": "mm"}},
            "measured",
        ),
        ({"words": "Wet.", "measured": {"value": 1, "unit": "mm"}}, "checkpoint"),
    ],
)
def test_what_cannot_be_measured_there_is_refused(scene, at, finding, pointer):
    refused = reported(scene, at, findings=[{"words": "In order."}, finding])
    assert (refused.status_code, pointers(refused)) == (422, {f"/findings/1/{pointer}"})
    assert not SurveyReport.objects.exists()


def test_it_closes_and_confirms_doubts(scene, at):
    scene.posted(scene.cast.bea, look("joint", 4), look("terminals", 3))
    assert {one.checkpoint for one in open_doubts(scene.list.pk)} == {"joint", "terminals"}
    reported(scene, at, findings=[{"checkpoint": "joint", "level": 1}])
    assert {one.checkpoint for one in open_doubts(scene.list.pk)} == {"terminals"}
    # A surveyor may judge what a rigger may.
    rig = f"/surveys/{commissioned(scene, kind='rig').json()['id']}"
    reported(scene, rig, findings=[{"checkpoint": "terminals", "level": 4}])
    (left,) = open_doubts(scene.list.pk)
    assert (left.checkpoint, left.level, left.judged) == ("terminals", 4, True)


def test_a_correction_replaces_it_and_both_stay_on_record(scene, at):
    reported(scene, at)
    cost = {"low": "2000.00", "high": "2000.00", "currency": "EUR"}
    put_right = {"checkpoint": "joint", "level": 2, "cost": cost, "remedy": "reseal"}
    second = reported(scene, at, findings=[put_right], document="Report 31, second page")
    assert second.status_code == 201, second.content
    assert second.json()["number"] == 2
    assert scene.cast.ivy.get(at).json()["report"] == second.json()["id"]
    first, corrected = SurveyReport.objects.order_by("number")
    assert corrected.submission.supersedes == first.submission
    assert first.findings.count() == 2
    assert [one.remedy for one in list_quotes(scene.list.pk)] == ["reseal"]
    assert Quote.objects.exclude(withdrawn_at=None).get().remedy_id == "rebed"
    assert (
        Viewing.objects.filter(candidate=scene.heron).count() == 2
    )  # the first visit, and its own


def test_only_who_entered_it_corrects_it(scene, at):
    reported(scene, at)
    refused = reported(scene, at, scene.cast.bea)
    assert (refused.status_code, refused.json()["roles"]) == (403, ["author"])
    assert SurveyReport.objects.count() == 1


def test_faults_point_to_the_finding_in_the_report(scene, at):
    cost = {"low": "300.00", "high": "200.00", "currency": "NOK"}
    findings = [
        {"words": "In order."},
        {},
        {"checkpoint": "joint"},
        {"checkpoint": "nowhere", "level": 1},
        {"words": "A level of nothing", "level": 2},
        {"words": "Dear", "cost": cost, "remedy": "no_such"},
        {"checkpoint": "joint", "level": 1},
    ]
    refused = reported(scene, at, findings=findings)
    assert refused.status_code == 422
    assert pointers(refused) == {
        "/findings/1/words",
        "/findings/2/level",
        "/findings/3/checkpoint",
        "/findings/4/checkpoint",
        "/findings/5/cost/high",
        "/findings/5/cost/currency",
        "/findings/5/remedy",
        "/findings/6/checkpoint",
    }
    assert not Submission.objects.exists()
    assert not SurveyFinding.objects.exists()
    assert not Viewing.objects.exclude(pk=scene.viewing.pk).exists()


def test_more_that_is_refused(scene, at):
    assert pointers(reported(scene, at, findings=[])) == {"/findings"}
    assert pointers(reported(scene, at, looked_at="2099-01-01T10:00:00Z")) == {"/looked_at"}
    cost = {"low": "0.00", "high": "200.00", "currency": "EUR"}
    free = {"words": "Free?", "cost": cost}
    assert pointers(reported(scene, at, findings=[free])) == {"/findings/0/cost/low"}
    twice = {"words": "Rebed", "cost": {**cost, "low": "100.00"}, "remedy": "rebed"}
    assert pointers(reported(scene, at, findings=[twice, twice])) == {"/findings/1/remedy"}


def test_could_not_look_is_not_read_as_fine(scene, at):
    scene.posted(scene.cast.bea, look("joint", 4))
    out_of_reach = {"checkpoint": "joint", "kind": "could_not_look", "reason": "locked"}
    reported(scene, at, findings=[out_of_reach])
    assert {one.checkpoint for one in open_doubts(scene.list.pk)} == {"joint"}
    assert scene.cast.ben.get(f"{at}/comparison").json()["checkpoints"] == []


def test_a_repeat_enters_no_second(scene, at):
    body = {
        "document": "Report 31",
        "looked_at": "2025-04-12T09:00:00Z",
        "findings": [{"words": "In order."}],
    }
    first = scene.cast.ben.post(f"{at}/reports", body, Idempotency_Key="once")
    assert scene.cast.ben.post(f"{at}/reports", body, Idempotency_Key="once").json() == first.json()
    assert SurveyReport.objects.count() == 1


def test_as_many_queries_for_many_findings(scene, at):
    def queries(*findings):
        other = f"/surveys/{commissioned(scene).json()['id']}"
        with CaptureQueriesContext(connection) as made:
            assert reported(scene, other, findings=list(findings)).status_code == 201
        return len(made)

    few = queries({"words": "One"}, {"checkpoint": "joint", "level": 1})
    words = [{"words": f"Finding {n}"} for n in range(30)]
    more = queries(
        *words, {"checkpoint": "joint", "level": 1}, {"checkpoint": "terminals", "level": 2}
    )
    assert more <= few


# --- Beside what the group had seen --------------------------------------------------------------


def test_found_missed_and_overcalled(scene, at):
    scene.posted(scene.cast.ben, look("joint", 3), look("terminals", 0))
    scene.posted(scene.cast.bea, look("joint", 1), look("terminals", 4))
    reported(
        scene,
        at,
        findings=[{"checkpoint": "joint", "level": 4}, {"checkpoint": "terminals", "level": 1}],
    )
    scene.posted(
        scene.cast.hal, look("joint", 4), viewing=scene.visit(starts_at="2025-05-01T10:00Z")
    )
    answer = scene.cast.ivy.get(f"{at}/comparison")
    assert answer.status_code == 200, answer.content
    said = answer.json()
    assert "stands above the group's screening" in said["caution"]
    joint, terminals = (
        next(one for one in said["checkpoints"] if one["code"] == code)
        for code in ("joint", "terminals")
    )
    assert {one["name"]: one["verdict"] for one in joint["looks"]} == {
        "Ben": "found",
        "Bea": "missed",
    }
    assert (joint["verdict"], joint["ruled"]) == ("found", "in")
    assert {one["name"]: one["verdict"] for one in terminals["looks"]} == {
        "Ben": "agreed",
        "Bea": "overcalled",
    }
    assert (terminals["verdict"], terminals["ruled"]) == ("overcalled", "out")
    # Ben: 3 - 4 and 0 - 1; Bea: 1 - 4 and 4 - 1. Hal looked after the survey.
    assert [
        (p["name"], p["found"], p["missed"], p["overcalled"], p["agreed"], p["difference"])
        for p in said["people"]
    ] == [("Bea", 0, 1, 1, 0, 0.0), ("Ben", 1, 0, 0, 1, -1.0)]


def test_a_specialist_rules_out_only_what_is_theirs(scene):
    scene.posted(scene.cast.bea, look("joint", 4), look("terminals", 4))
    rig = f"/surveys/{commissioned(scene, kind='rig').json()['id']}"
    fine = [{"checkpoint": code, "level": 0} for code in ("joint", "terminals")]
    reported(scene, rig, findings=fine)
    said = scene.cast.ben.get(f"{rig}/comparison").json()
    assert {one["code"]: one["ruled"] for one in said["checkpoints"]} == {
        "joint": None,
        "terminals": "out",
    }


def test_a_last_look_counts(scene, at):
    scene.posted(scene.cast.ben, look("joint", 0))
    scene.posted(scene.cast.ben, look("joint", 3), viewing=scene.visit())
    reported(scene, at)
    (joint,) = scene.cast.ben.get(f"{at}/comparison").json()["checkpoints"]
    assert [(one["level"], one["verdict"]) for one in joint["looks"]] == [(3, "found")]


def test_what_nobody_saw_is_nobodys_miss(scene, at):
    reported(scene, at)
    said = scene.cast.ben.get(f"{at}/comparison").json()
    assert [one["verdict"] for one in said["checkpoints"]] == ["not_looked"]
    assert said["people"] == []


def test_no_comparison_before_the_report(scene, at):
    assert scene.cast.ben.get(f"{at}/comparison").status_code == 404
