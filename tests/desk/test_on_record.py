"""The operator's pages, archives, and people who leave: what is on record stays as it should."""

import pytest
from django.urls import reverse

from apps.accounts.erasing import NAMELESS
from apps.accounts.models import Person
from apps.desk.models import LookRequest, Step, Take
from apps.viewings.models import Submission
from tests.archives.conftest import archive_of, imported, repacked, unpacked

PASSWORD = "tidal stream 9"


@pytest.fixture
def operator(client, db):
    client.force_login(Person.objects.create_superuser("op@example.org", "x", name="Op"))
    return client


@pytest.mark.parametrize("model", ["lookrequest", "clubdesk", "groupdesk"])
def test_the_operators_pages_open_and_change_nothing(operator, desk, model):
    desk.visited(desk.taken())
    desk.sef.change("PATCH", f"/clubs/{desk.club.id}/desk", {"most_taken": 2})
    desk.cast.ola.change("PUT", f"/groups/{desk.cast.group.id}/desk", {"opens_yard_days": True})
    listing = operator.get(reverse(f"admin:desk_{model}_changelist"))
    assert listing.status_code == 200
    (row,) = listing.context["cl"].queryset
    page = operator.get(reverse(f"admin:desk_{model}_change", args=[row.pk]))
    assert page.status_code == 200
    assert page.context["has_change_permission"] is False


# --- Archives ------------------------------------------------------------------------------------


def over(desk) -> None:
    take = desk.visited(desk.taken(checkpoints=["joint"]))
    desk.submit(take)
    desk.abe.post(f"{take}/answers", {"answer": "A hair line, dry."})


def test_what_is_over_is_in_the_groups_archive(desk):
    over(desk)
    desk.asked(question="Still open")
    archive = unpacked(archive_of(desk.cast))
    (request,) = archive.rows["look_requests"]
    assert (request["state"], request["answer"]) == ("answered", "A hair line, dry.")
    assert [row["kind"] for row in archive.rows["look_steps"]] == [
        "asked",
        "taken",
        "visit_planned",
        "submitted",
        "answered",
    ]
    assert archive.manifest["left_out"]["look_requests"] == 1
    assert "Abe" in {row["name"] for row in archive.rows["people"]}
    assert "abe@example.org" not in str(archive.rows)


def test_it_comes_in_again(desk):
    over(desk)
    came = imported(desk.cast.ola, archive_of(desk.cast))
    assert came["state"] == "done", came
    path = f"/groups/{came['group']}/look-requests"
    (request,) = desk.cast.ola.get(path).json()["results"]
    assert (request["state"], request["answered_by"]["name"]) == ("answered", "Abe")
    steps = desk.cast.ola.get(f"/look-requests/{request['id']}/steps").json()["results"]
    assert len(steps) == 5
    assert LookRequest.objects.get(pk=request["id"]).club is None


def test_an_open_request_does_not_come_in(desk):
    """It would lie with a club that the new group does not belong to."""
    over(desk)

    def reopened(opened):
        row = opened.rows["look_requests"][0]
        row |= {"state": "waiting", "answer": "", "answered_by": None, "answered_at": None}

    came = imported(desk.cast.ola, repacked(archive_of(desk.cast), reopened))
    assert came["state"] == "refused"
    faults = {(one["field"], one["code"]) for one in came["faults"]}
    assert ("state", "still_open") in faults


def test_the_askers_own_archive_holds_what_they_asked(desk):
    from tests.archives.conftest import exported, fetched

    desk.asked()
    archive = unpacked(fetched(exported(desk.cast.ben, "/people/me/exports")))
    assert [row["state"] for row in archive.rows["look_requests"]] == ["waiting"]
    assert [row["kind"] for row in archive.rows["look_steps"]] == ["asked"]


# --- Leaving for good ----------------------------------------------------------------------------


def leave(who) -> None:
    who.person.set_password(PASSWORD)
    who.person.save()
    left = who.post("/people/me/deletions", {"password": PASSWORD})
    assert left.status_code == 204, left.content


def test_an_adviser_leaves_for_good(desk):
    take = desk.visited(desk.taken())
    request = desk.request_of(take)
    sent = desk.submit(take).json()["id"]
    draft = desk.submit(take, state="draft").json()["id"]
    leave(desk.abe)
    assert Take.objects.get().ending == "lapsed"
    assert LookRequest.objects.get(pk=request).state == "waiting"
    assert not Submission.objects.filter(pk=draft).exists()
    shown = desk.cast.ben.get(f"/submissions/{sent}").json()
    assert shown["author"]["name"] == NAMELESS
    assert ("taken", NAMELESS) in desk.steps(request)
    assert [row["id"] for row in desk.seen_by(desk.amy)] == [request]


def test_who_was_asked_leaves_for_good(desk):
    request = desk.asked()
    desk.sef.post(f"/asked-looks/{request}/offers", {"adviser": str(desk.amy.person.pk)})
    leave(desk.amy)
    assert LookRequest.objects.get(pk=request).offered_to is None
    assert [row["id"] for row in desk.seen_by(desk.abe)] == [request]


def test_who_asked_leaves_the_group_and_the_request_stays(desk):
    request = desk.asked()
    leave(desk.cast.ben)
    assert LookRequest.objects.get(pk=request).state == "waiting"
    assert desk.steps(request) == [("asked", NAMELESS)]
    assert Step.objects.get().by_id == desk.cast.ben.person.pk
