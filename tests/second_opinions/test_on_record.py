"""The operator's pages, archives, and people who leave: what is on record stays as it should."""

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


@pytest.mark.parametrize("model", ["lookrequest", "clubdesk", "groupdesk"])
def test_the_operators_pages_open_and_change_nothing(operator, opinion_settings, model):
    opinion_settings.visited(opinion_settings.taken())
    opinion_settings.sef.change(
        "PATCH", f"/clubs/{opinion_settings.club.id}/second-opinion-settings", {"most_taken": 2}
    )
    opinion_settings.cast.ola.change(
        "PUT",
        f"/groups/{opinion_settings.cast.group.id}/second-opinion-settings",
        {"opens_yard_days": True},
    )
    listing = operator.get(reverse(f"admin:opinion_settings_{model}_changelist"))
    assert listing.status_code == 200
    (row,) = listing.context["cl"].queryset
    page = operator.get(reverse(f"admin:opinion_settings_{model}_change", args=[row.pk]))
    assert page.status_code == 200
    assert page.context["has_change_permission"] is False


# --- Archives ------------------------------------------------------------------------------------


def over(opinion_settings) -> None:
    assignment = opinion_settings.visited(opinion_settings.taken(checkpoints=["joint"]))
    opinion_settings.submit(assignment)
    opinion_settings.abe.post(f"{assignment}/answers", {"answer": "A hair line, dry."})


def test_what_is_over_is_in_the_groups_archive(opinion_settings):
    over(opinion_settings)
    opinion_settings.asked(question="Still open")
    archive = unpacked(archive_of(opinion_settings.cast))
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


def test_it_comes_in_again(opinion_settings):
    over(opinion_settings)
    came = imported(opinion_settings.cast.ola, archive_of(opinion_settings.cast))
    assert came["state"] == "done", came
    path = f"/groups/{came['group']}/second-opinion-requests"
    (request,) = opinion_settings.cast.ola.get(path).json()["results"]
    assert (request["state"], request["answered_by"]["name"]) == ("answered", "Abe")
    steps = opinion_settings.cast.ola.get(f"/second-opinion-requests/{request['id']}/steps").json()[
        "results"
    ]
    assert len(steps) == 5
    assert SecondOpinionRequest.objects.get(pk=request["id"]).club is None


def test_an_open_request_does_not_come_in(opinion_settings):
    """It would lie with a club that the new group does not belong to."""
    over(opinion_settings)

    def reopened(opened):
        row = opened.rows["second_opinion_requests"][0]
        row |= {"state": "waiting", "answer": "", "answered_by": None, "answered_at": None}

    came = imported(
        opinion_settings.cast.ola, repacked(archive_of(opinion_settings.cast), reopened)
    )
    assert came["state"] == "refused"
    faults = {(one["field"], one["code"]) for one in came["faults"]}
    assert ("state", "still_open") in faults


def test_the_askers_own_archive_holds_what_they_asked(opinion_settings):
    from tests.archives.conftest import exported, fetched

    opinion_settings.asked()
    archive = unpacked(fetched(exported(opinion_settings.cast.ben, "/people/me/exports")))
    assert [row["state"] for row in archive.rows["second_opinion_requests"]] == ["waiting"]
    assert [row["kind"] for row in archive.rows["second_opinion_steps"]] == ["asked"]


# --- Leaving for good ----------------------------------------------------------------------------


def leave(who) -> None:
    who.person.set_password(PASSWORD)
    who.person.save()
    left = who.post("/people/me/deletions", {"password": PASSWORD})
    assert left.status_code == 204, left.content


def test_an_adviser_leaves_for_good(opinion_settings):
    assignment = opinion_settings.visited(opinion_settings.taken())
    request = opinion_settings.request_of(assignment)
    sent = opinion_settings.submit(assignment).json()["id"]
    draft = opinion_settings.submit(assignment, state="draft").json()["id"]
    leave(opinion_settings.abe)
    assert Assignment.objects.get().ending == "lapsed"
    assert SecondOpinionRequest.objects.get(pk=request).state == "waiting"
    assert not Submission.objects.filter(pk=draft).exists()
    shown = opinion_settings.cast.ben.get(f"/submissions/{sent}").json()
    assert shown["author"]["name"] == NAMELESS
    assert ("taken", NAMELESS) in opinion_settings.steps(request)
    assert [row["id"] for row in opinion_settings.seen_by(opinion_settings.amy)] == [request]


def test_who_was_asked_leaves_for_good(opinion_settings):
    request = opinion_settings.asked()
    opinion_settings.sef.post(
        f"/second-opinion-queue/{request}/offers", {"adviser": str(opinion_settings.amy.person.pk)}
    )
    leave(opinion_settings.amy)
    assert SecondOpinionRequest.objects.get(pk=request).offered_to is None
    assert [row["id"] for row in opinion_settings.seen_by(opinion_settings.abe)] == [request]


def test_who_asked_leaves_the_group_and_the_request_stays(opinion_settings):
    request = opinion_settings.asked()
    leave(opinion_settings.cast.ben)
    assert SecondOpinionRequest.objects.get(pk=request).state == "waiting"
    assert opinion_settings.steps(request) == [("asked", NAMELESS)]
    assert Step.objects.get().by_id == opinion_settings.cast.ben.person.pk
