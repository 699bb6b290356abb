"""The record of second opinions in admin pages, in archives, and after people leave."""

import pytest
from django.urls import reverse

from apps.accounts.erasing import NAMELESS
from apps.accounts.models import Person
from apps.second_opinions.models import Assignment, SecondOpinionRequest, Step
from apps.viewings.models import Submission
from tests.archives.conftest import archive_of, imported, repacked, unpacked

PASSWORD = "tidal stream 9"


@pytest.fixture
def operator(client, db):
    client.force_login(Person.objects.create_superuser("op@example.org", "x", name="Op"))
    return client


@pytest.mark.parametrize(
    "model", ["secondopinionrequest", "clubopinionsettings", "groupopinionsettings"]
)
def test_the_operators_pages_open_and_change_nothing(operator, asking, model):
    asking.visited(asking.taken())
    asking.sef.change(
        "PATCH", f"/clubs/{asking.club.id}/second-opinion-settings", {"most_taken": 2}
    )
    asking.cast.ola.change(
        "PUT",
        f"/groups/{asking.cast.group.id}/second-opinion-settings",
        {"opens_yard_days": True},
    )
    listing = operator.get(reverse(f"admin:second_opinions_{model}_changelist"))
    assert listing.status_code == 200
    (row,) = listing.context["cl"].queryset
    page = operator.get(reverse(f"admin:second_opinions_{model}_change", args=[row.pk]))
    assert page.status_code == 200
    assert page.context["has_change_permission"] is False


# --- Archives ------------------------------------------------------------------------------------


def over(asking) -> None:
    assignment = asking.visited(asking.taken(checkpoints=["joint"]))
    asking.submit(assignment)
    asking.abe.post(f"{assignment}/answers", {"answer": "A hair line, dry."})


def test_what_is_over_is_in_the_groups_archive(asking):
    over(asking)
    asking.asked(question="Still open")
    archive = unpacked(archive_of(asking.cast))
    (request,) = archive.rows["second_opinion_requests"]
    assert (request["state"], request["answer"]) == ("answered", "A hair line, dry.")
    assert [row["kind"] for row in archive.rows["second_opinion_steps"]] == [
        "asked",
        "taken",
        "visit_planned",
        "submitted",
        "answered",
    ]
    assert archive.manifest["left_out"]["second_opinion_requests"] == 1
    assert "Abe" in {row["name"] for row in archive.rows["people"]}
    assert "abe@example.org" not in str(archive.rows)


def test_it_comes_in_again(asking):
    over(asking)
    came = imported(asking.cast.ola, archive_of(asking.cast))
    assert came["state"] == "done", came
    path = f"/groups/{came['group']}/second-opinion-requests"
    (request,) = asking.cast.ola.get(path).json()["results"]
    assert (request["state"], request["answered_by"]["name"]) == ("answered", "Abe")
    steps = asking.cast.ola.get(f"/second-opinion-requests/{request['id']}/steps").json()["results"]
    assert len(steps) == 5
    assert SecondOpinionRequest.objects.get(pk=request["id"]).club is None


def test_an_open_request_does_not_come_in(asking):
    """It would lie with a club that the new group does not belong to."""
    over(asking)

    def reopened(opened):
        row = opened.rows["second_opinion_requests"][0]
        row |= {"state": "waiting", "answer": "", "answered_by": None, "answered_at": None}

    came = imported(asking.cast.ola, repacked(archive_of(asking.cast), reopened))
    assert came["state"] == "refused"
    faults = {(one["field"], one["code"]) for one in came["faults"]}
    assert ("state", "still_open") in faults


def test_the_askers_own_archive_holds_what_they_asked(asking):
    from tests.archives.conftest import exported, fetched

    asking.asked()
    archive = unpacked(fetched(exported(asking.cast.ben, "/people/me/exports")))
    assert [row["state"] for row in archive.rows["second_opinion_requests"]] == ["waiting"]
    assert [row["kind"] for row in archive.rows["second_opinion_steps"]] == ["asked"]


# --- Leaving for good ----------------------------------------------------------------------------


def leave(who) -> None:
    who.person.set_password(PASSWORD)
    who.person.save()
    left = who.post("/people/me/deletions", {"password": PASSWORD})
    assert left.status_code == 204, left.content


def test_an_adviser_leaves_for_good(asking):
    assignment = asking.visited(asking.taken())
    request = asking.request_of(assignment)
    sent = asking.submit(assignment).json()["id"]
    draft = asking.submit(assignment, state="draft").json()["id"]
    leave(asking.abe)
    assert Assignment.objects.get().ending == "lapsed"
    assert SecondOpinionRequest.objects.get(pk=request).state == "waiting"
    assert not Submission.objects.filter(pk=draft).exists()
    shown = asking.cast.ben.get(f"/submissions/{sent}").json()
    assert shown["author"]["name"] == NAMELESS
    assert ("taken", NAMELESS) in asking.steps(request)
    assert [row["id"] for row in asking.seen_by(asking.amy)] == [request]


def test_who_was_asked_leaves_for_good(asking):
    request = asking.asked()
    asking.sef.post(
        f"/second-opinion-queue/{request}/offers", {"adviser": str(asking.amy.person.pk)}
    )
    leave(asking.amy)
    assert SecondOpinionRequest.objects.get(pk=request).offered_to is None
    assert [row["id"] for row in asking.seen_by(asking.abe)] == [request]


def test_who_asked_leaves_the_group_and_the_request_stays(asking):
    request = asking.asked()
    leave(asking.cast.ben)
    assert SecondOpinionRequest.objects.get(pk=request).state == "waiting"
    assert asking.steps(request) == [("asked", NAMELESS)]
    assert Step.objects.get().by_id == asking.cast.ben.person.pk
