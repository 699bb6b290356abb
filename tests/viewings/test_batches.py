"""Batches of submissions made without signal, each accepted separately."""

from datetime import UTC, datetime, timedelta
from uuid import UUID

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from uuid_utils.compat import uuid7

from apps.appraisal.compute.arrays import list_arrays
from apps.appraisal.compute.inputs import read_inputs
from apps.events.models import Event
from apps.viewings.doubts import open_doubts
from apps.viewings.facts import latest_looks, list_findings
from apps.viewings.models import Finding, Submission, Viewing
from tests.conftest import pointers
from tests.viewings.conftest import could_not, look


def item(viewing=None, *findings, **more):
    from_where = {"viewing": str(viewing.id)} if viewing else {}
    said = {"state": "submitted", "findings": list(findings)}
    return {"id": str(uuid7()), **from_where, **said, **more}


def visit(boat, **changed):
    return {
        "id": str(uuid7()),
        "candidate": str(boat.id),
        "starts_at": "2025-03-15T09:00:00Z",
        "conditions": {"where": "ashore"},
        **changed,
    }


def send(scene, *items, who=None, **more):
    path = f"/groups/{scene.cast.group.id}/submission-batches"
    return (who or scene.cast.ben).post(path, {"submissions": list(items), **more})


def results(answer):
    assert answer.status_code == 207, answer.content
    return answer.json()["results"]


def statuses(answer) -> list[int]:
    return [result["status"] for result in results(answer)]


def faults(result) -> dict[str, str]:
    return {fault["pointer"]: fault["code"] for fault in result["problem"]["errors"]}


def test_it_works(scene):
    before = scene.revision()
    known = item(scene.viewing, look("joint", 3), vote="query")
    new = item(None, look("iron", 2), new_viewing=visit(scene.heron, note="After the frost"))
    draft = item(scene.viewing, state="draft")
    answer = send(scene, known, new, draft)
    first, second, third = results(answer)
    assert first == {
        "id": known["id"],
        "status": 201,
        "viewing": str(scene.viewing.id),
        "version": 1,
        "notes": [],
        "problem": None,
    }
    assert (second["status"], second["viewing"]) == (201, new["new_viewing"]["id"])
    assert third["status"] == 201
    read = scene.cast.ivy.get(f"/submissions/{new['id']}").json()
    assert [finding["checkpoint"] for finding in read["findings"]] == ["iron"]
    made = scene.cast.ivy.get(f"/viewings/{second['viewing']}").json()
    assert (made["state"], made["note"], made["conditions"]["where"]) == (
        "made",
        "After the frost",
        "ashore",
    )
    assert scene.revision() == before + 2, "a draft changes nothing"
    kinds = list(Event.objects.filter(kind__startswith="submission").values_list("kind", flat=True))
    assert kinds == ["submission.submitted", "submission.submitted", "submission.drafted"]


def test_each_is_accepted_or_refused_by_itself_with_pointers_into_the_whole(scene):
    fine, also_fine = item(scene.viewing, look("joint", 1)), item(scene.viewing, look("iron", 1))
    sent = [
        fine,
        item(scene.viewing, look("joint", 9), look("no-such", 1)),
        "not an object",
        {**item(scene.viewing), "id": "nonsense", "misspelt": 1},
        item(scene.viewing, look("terminals", 2), look("no-such", 1), vote="keep"),
        item(None, look("joint", 1)),
        also_fine,
    ]
    answer = results(send(scene, *sent))
    assert [result["status"] for result in answer] == [201, 422, 422, 422, 422, 422, 201]
    assert [result["id"] for result in answer][2:4] == [None, None]
    assert faults(answer[1]) == {"/submissions/1/findings/0/level": "max_value"}
    assert faults(answer[2]) == {"/submissions/2": "not_an_object"}
    assert faults(answer[3]) == {
        "/submissions/3/id": "invalid",
        "/submissions/3/misspelt": "unknown_field",
    }
    assert faults(answer[4]) == {"/submissions/4/findings/1/checkpoint": "unknown"}
    assert faults(answer[5]) == {"/submissions/5/viewing": "one_of_both"}
    stored = {str(id) for id in Submission.objects.values_list("pk", flat=True)}
    assert stored == {fine["id"], also_fine["id"]}


def test_a_refused_one_takes_its_visit_back(scene):
    before = Viewing.objects.count()
    (refused,) = results(send(scene, item(None, look("x", 1), new_viewing=visit(scene.heron))))
    assert faults(refused) == {"/submissions/0/findings/0/checkpoint": "unknown"}
    assert Viewing.objects.count() == before


def test_five_hundred_repeats_leave_one_copy(scene):
    """The phone never heard that it came through."""
    own_visit = visit(scene.dunlin)
    batch = [
        item(scene.viewing, look("joint", 3), vote="query"),
        item(None, look("mainsail", 1), new_viewing=own_visit),
        item(None, could_not("terminals", "poor_light"), new_viewing=own_visit),
    ]
    assert statuses(send(scene, *batch)) == [201, 201, 201]
    viewings, revision, events = Viewing.objects.count(), scene.revision(), Event.objects.count()
    for _ in range(500):
        assert statuses(send(scene, *batch)) == [200, 200, 200]
    assert (Submission.objects.count(), Finding.objects.count()) == (3, 3)
    assert Viewing.objects.count() == viewings
    assert (scene.revision(), Event.objects.count()) == (revision, events), "nothing new is told"


def test_a_repeat_costs_the_same_however_many_there_are(scene):
    def queries(items):
        with CaptureQueriesContext(connection) as captured:
            assert set(statuses(send(scene, *items))) == {200}
        return len(captured)

    many = [item(scene.viewing, look("joint", 1)) for _ in range(20)]
    assert set(statuses(send(scene, *many))) == {201}
    assert queries(many[:1]) == queries(many)


def test_part_of_a_batch_came_through_before(scene):
    first, second = item(scene.viewing, look("joint", 1)), item(scene.viewing, look("iron", 1))
    alone = {k: v for k, v in first.items() if k != "viewing"}
    assert scene.post(scene.cast.ben, **alone).status_code == 201, "by a request of its own"
    assert statuses(send(scene, first, second, first)) == [200, 201, 200]


def test_other_content_under_a_used_id_is_a_conflict(scene):
    first = item(scene.viewing, look("joint", 1))
    assert statuses(send(scene, first)) == [201]
    other_boat = {**first, "viewing": None, "new_viewing": visit(scene.dunlin)}
    for other in ({**first, "minutes": 5}, {**first, "findings": []}, other_boat):
        (refused,) = results(send(scene, other))
        assert (refused["status"], refused["problem"]["code"]) == (409, "id_taken")
    (refused,) = results(send(scene, first, who=scene.cast.bea))
    assert refused["status"] == 409
    assert Submission.objects.get().minutes is None


def test_later_ones_may_correct_earlier_ones(scene):
    first = item(scene.viewing, look("joint", 3))
    second = item(scene.viewing, look("joint", 1), supersedes=first["id"])
    assert statuses(send(scene, first, second)) == [201, 201]
    assert [f.level for f in list_findings(scene.list.id)] == [1]


# --- Two phones of one person --------------------------------------------------------------------


def test_two_phones_that_noted_the_same_visit_mean_one(scene):
    one = visit(scene.dunlin, starts_at="2025-03-15T09:00:00Z")
    other = visit(
        scene.dunlin,
        starts_at="2025-03-15T09:40:00Z",
        conditions={"where": "afloat", "light": "poor"},
    )
    assert statuses(send(scene, item(None, look("mainsail", 2), new_viewing=one))) == [201]
    second = item(None, look("terminals", 3), new_viewing=other)
    (merged,) = results(send(scene, second))
    assert (merged["status"], merged["viewing"]) == (201, one["id"])
    assert [note["code"] for note in merged["notes"]] == ["other_viewing"]
    assert results(send(scene, second))[0] == {**merged, "status": 200}, "a repeat is told as much"
    kept = Viewing.objects.get(candidate=scene.dunlin)
    assert (kept.where, kept.light) == ("ashore", "poor"), "only what was not known is filled in"
    assert kept.submissions.count() == 2


def test_visits_of_others_or_of_another_time_stay_apart(scene):
    for who, at in (
        (scene.cast.ben, "2025-03-15T09:00:00Z"),
        (scene.cast.ben, "2025-03-15T12:01:00Z"),
        (scene.cast.bea, "2025-03-15T09:00:00Z"),
    ):
        sent = item(None, look("mainsail", 2), new_viewing=visit(scene.dunlin, starts_at=at))
        assert statuses(send(scene, sent, who=who)) == [201]
    assert Viewing.objects.filter(candidate=scene.dunlin).count() == 3


def test_looks_of_one_person_on_one_visit_are_one_look_whichever_comes_first(scene):
    early, late = "2025-03-01T10:10:00Z", "2025-03-01T10:50:00Z"
    phone = item(scene.viewing, look("iron", 3), look("mainsail", 1), observed_at=early)
    tablet = item(scene.viewing, look("iron", 1), observed_at=late)
    gauge = item(scene.viewing, look("joint", 2, measured={"value": 1.5, "unit": "mm"}))
    judged = item(scene.viewing, look("joint", 1))
    sent = [tablet, phone, gauge, judged]
    assert statuses(send(scene, *sent)) == [201] * 4
    found = list_findings(scene.list.id)
    assert len(found) == 5, "all of it stays on record"
    counted = sorted((f.checkpoint, f.level) for f in latest_looks(found))
    assert counted == [("iron", 1), ("joint", 1), ("joint", 2), ("mainsail", 1)]
    arrays = list_arrays(read_inputs(scene.list.id))
    iron = [c.code for c in arrays.checkpoints].index("iron")
    assert [one.level for one in arrays.statements if one.checkpoint == iron] == [1]


def test_of_two_people_both_count(scene):
    for who in (scene.cast.ben, scene.cast.bea):
        assert statuses(send(scene, item(scene.viewing, look("iron", 2)), who=who)) == [201]
    assert len(latest_looks(list_findings(scene.list.id))) == 2


def test_a_doubt_is_not_dropped_by_a_later_look_of_the_same_person(scene):
    raised = item(scene.viewing, look("joint", 3), observed_at="2025-03-01T10:10:00Z")
    calmer = item(scene.viewing, look("joint", 0), observed_at="2025-03-01T10:50:00Z")
    assert statuses(send(scene, raised, calmer)) == [201, 201]
    assert [doubt.level for doubt in open_doubts(scene.list.id)] == [3]


# --- Clocks --------------------------------------------------------------------------------------


def observed(scene, said, *, sent_at=None, starts_at=None):
    """The stored times of a look at `said`, by a clock that now shows `sent_at`."""
    seen_on = scene.visit(starts_at=starts_at or timezone.now() - timedelta(hours=2))
    more = {"sent_at": sent_at.isoformat()} if sent_at else {}
    sent = item(seen_on, look("iron", 1), observed_at=said.isoformat())
    answer = send(scene, sent, **more)
    (result,) = results(answer)
    stored = Submission.objects.get(pk=sent["id"])
    return answer.json(), [note["code"] for note in result["notes"]], stored


def test_a_clock_that_is_about_right_is_believed(scene):
    said = timezone.now() - timedelta(hours=1)
    answer, notes, stored = observed(scene, said, sent_at=timezone.now() - timedelta(seconds=30))
    assert (answer["clock_ahead_s"], notes) == (0, [])
    assert (stored.observed_at, stored.observed_stated) == (said, None)
    shown = scene.cast.ivy.get(f"/submissions/{stored.pk}").json()
    assert datetime.fromisoformat(shown["observed_at"]) == said
    assert shown["observed_stated"] is None
    assert shown["received_at"] == shown["created_at"]


@pytest.mark.parametrize("off", [timedelta(hours=5), -timedelta(days=400), timedelta(days=3000)])
def test_the_error_of_a_clock_that_tells_what_it_shows_is_taken_off(scene, off):
    seen_at = timezone.now() - timedelta(hours=1)
    answer, notes, stored = observed(scene, seen_at + off, sent_at=timezone.now() + off)
    assert answer["clock_ahead_s"] == pytest.approx(off.total_seconds(), abs=5)
    assert notes == ["clock_corrected"]
    assert abs(stored.observed_at - seen_at) < timedelta(seconds=5)
    assert stored.observed_stated == seen_at + off, "what the clock said is kept beside it"


@pytest.mark.parametrize(
    "said",
    [
        datetime(9999, 12, 31, 23, tzinfo=UTC),
        datetime(2100, 1, 1, tzinfo=UTC),
        timezone.now() + timedelta(days=1),
    ],
)
def test_what_was_not_yet_is_taken_as_seen_when_it_came(scene, said):
    _, notes, stored = observed(scene, said)
    assert notes == ["clock_corrected"]
    assert timezone.now() - stored.observed_at < timedelta(minutes=1)
    assert stored.observed_stated == said


@pytest.mark.parametrize("year", [1, 1970, 2000])
def test_what_was_before_the_visit_is_taken_as_seen_when_it_began(scene, year):
    began = timezone.now() - timedelta(hours=2)
    _, notes, stored = observed(scene, datetime(year, 1, 2, tzinfo=UTC), starts_at=began)
    assert (notes, stored.observed_at) == (["clock_corrected"], began)


def test_a_clock_out_of_all_bounds_breaks_nothing(scene):
    said = datetime(1, 1, 2, tzinfo=UTC)
    _, notes, _ = observed(scene, said, sent_at=datetime(9999, 12, 30, tzinfo=UTC))
    assert notes == ["clock_corrected"]


def test_so_does_a_visit_out_of_all_bounds(scene):
    new = visit(scene.dunlin, starts_at="0001-01-01T00:30:00Z")
    (result,) = results(send(scene, item(None, look("mainsail", 1), new_viewing=new)))
    assert (result["status"], result["viewing"]) == (201, new["id"])


def test_a_visit_made_earlier_than_it_was_planned_for_keeps_its_times(scene):
    said = timezone.now() - timedelta(minutes=10)
    tomorrow = timezone.now() + timedelta(days=1)
    _, notes, stored = observed(scene, said, starts_at=tomorrow)
    assert (notes, stored.observed_at) == ([], said)


def test_a_single_submission_has_its_clock_too(scene):
    late = (timezone.now() + timedelta(days=30)).isoformat()
    made = scene.posted(scene.cast.ben, look("iron", 1), observed_at=late)
    assert datetime.fromisoformat(made["observed_stated"]) == datetime.fromisoformat(late)
    assert datetime.fromisoformat(made["observed_at"]) <= timezone.now()


# --- Who may, and what is no batch ---------------------------------------------------------------


def test_who_may_not_submit_sends_no_batch(scene):
    sent = item(scene.viewing, look("joint", 1))
    assert send(scene, sent, who=scene.cast.ivy).status_code == 403
    assert send(scene, sent, who=scene.cast.ivy).json()["roles"]
    for stranger in (scene.cast.sten, scene.cast.wim):
        assert send(scene, sent, who=stranger).status_code == 404
    assert send(scene, sent, who=scene.cast.nobody).status_code == 401
    assert not Submission.objects.exists()


def test_what_is_of_another_group_is_unknown(scene):
    """Somebody in both groups does not carry things from one into the other."""
    other = f"/groups/{scene.cast.other_group.id}/submission-batches"
    scene.cast.membership(scene.cast.ben).__class__.objects.create(
        group=scene.cast.other_group, person=scene.cast.ben.person, role="buyer"
    )
    known = item(scene.viewing, look("joint", 1))
    new = item(None, look("joint", 1), new_viewing=visit(scene.heron))
    first, second = results(scene.cast.ben.post(other, {"submissions": [known, new]}))
    assert faults(first) == {"/submissions/0/viewing": "unknown"}
    assert faults(second) == {"/submissions/1/new_viewing/candidate": "unknown"}
    assert statuses(send(scene, known)) == [201]
    (refused,) = results(scene.cast.ben.post(other, {"submissions": [known]}))
    assert refused["status"] == 409


def test_who_goes_must_belong_to_the_group(scene):
    sten = str(scene.cast.sten.person.id)
    sent = item(None, look("joint", 1), new_viewing=visit(scene.heron, people=[sten]))
    (refused,) = results(send(scene, sent))
    assert faults(refused) == {"/submissions/0/new_viewing/people/0": "not_a_member"}


def test_a_visits_id_that_is_somebody_elses_is_a_conflict(scene):
    taken = visit(scene.dunlin, id=str(scene.viewing.id))
    (refused,) = results(send(scene, item(None, look("mainsail", 1), new_viewing=taken)))
    assert (refused["status"], refused["problem"]["code"]) == (409, "id_taken")


@pytest.mark.parametrize("submissions", [[], [{}] * 201, "x", None, {"0": {}}])
def test_what_is_no_batch_is_refused_as_a_whole(scene, submissions):
    path = f"/groups/{scene.cast.group.id}/submission-batches"
    assert pointers(scene.cast.ben.post(path, {"submissions": submissions})) == {"/submissions"}


def test_a_full_batch_comes_through(scene):
    full = [item(scene.viewing, look("joint", 1), look("iron", 2)) for _ in range(200)]
    assert statuses(send(scene, *full)) == [201] * 200
    assert UUID(full[-1]["id"]) in set(Submission.objects.values_list("pk", flat=True))
