"""An adviser sees nothing of the asking group but the boat, and only during the assignment.

Every text of the group contains its word, and no answer may contain the word or the group's ids.
The whole API is called as the adviser: before they take the request, while they have it, and after
each kind of ending.
"""

import json
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from uuid import UUID

import pytest
from django.test import Client
from django.utils import timezone

from apps.accounts.models import Person, Token
from apps.archives import jobs as archive_jobs
from apps.events.models import Webhook
from apps.groups.models import ClubMembership, Membership
from apps.second_opinions.models import SecondOpinionRequest
from apps.viewings.media.preparing import photo_prepare
from tests.archives.conftest import fetched, unpacked
from tests.conftest import Speaker
from tests.system.calls import CALLS, adviser, second_opinion_request, visited
from tests.system.conftest import worlds  # noqa: F401
from tests.system.operations import Operation, filled, operations
from tests.system.walk import Walk, those, undone
from tests.system.world import World, looked, with_files

pytestmark = pytest.mark.django_db

# A member of the club knows these anyway: the club, its yards, who belongs to it.
OF_THE_CLUB = (
    "club_id",
    "club_yard_id",
    "second_club_yard_id",
    "club_membership_id",
    "adviser",
    "organiser",
    "buyer",
)
# The facts about the boat that the adviser is told while they have her.
OF_THE_BOAT = ("candidate_id", "look_request_id", "assignment_id", "assignment_photo_id")
OF_THE_ASSIGNMENT = {"assignment_submission_id", "assignment_visit_id"}
# Calls that would change who the adviser is, or end the assignment.
NOT_TRIED = {
    "people_delete_me",
    "people_change_me",
    "sessions_close",
    "invitations_accept",
    "club_members_end",
    "assignments_answer",
    "assignments_hand_back",
    "sessions_open",
    # The access itself; what it gives access to is tried separately.
    "asked_looks_assignment",
}


@dataclass
class Eavesdropper:
    """The adviser, who calls every operation with every id that they could know."""

    walk: Walk
    world: World
    who: Speaker

    def kept(self, *, told: tuple[str, ...] = ()) -> set[str]:
        """The words and ids that no answer may contain, except the visible ones."""
        known = {self.world.ids[name] for name in (*OF_THE_CLUB, *told) if name in self.world.ids}
        own = {self.world.ids.get(name) for name in OF_THE_ASSIGNMENT}
        return self.world.words - known - own - {self.world.of_the_club.word}

    def hears(self, *, told: tuple[str, ...] = (), free: Callable[[Operation], bool]) -> None:
        """Check that no answer has anything of the group, and all but `free` give 404 (or 403)."""
        kept = self.kept(told=told)
        for operation in those(lambda o: o.id not in NOT_TRIED):
            with undone():
                answer = self.ask(operation)
            said = answer.content.decode(errors="replace")
            leaks = {word for word in kept if word in said and word not in self.sent}
            assert not leaks, (operation.id, leaks, said)
            if not free(operation):
                assert answer.status_code in (403, 404, 409, 422), (operation.id, said)

    def ask(self, operation: Operation):
        vote = CALLS[operation.id]
        body = None
        with suppress(KeyError):  # what only another call's `given` makes
            body = vote.body(self.world) if vote.body else None
        ids = {**dict.fromkeys(self.blanks(operation), str(UUID(int=0))), **self.world.named}
        path = filled(operation.path, ids, vote.at)
        self.sent = path + json.dumps(body, default=str)
        if operation.takes_form:
            return self.who.send_form(path, with_files(body or {}))
        headers = {"If_Match": '"no-such-version"'} if operation.takes_version else {}
        return self.who.send(operation.method, path, body, **headers)

    def blanks(self, operation: Operation) -> set[str]:
        at = CALLS[operation.id].at
        return {at.get(name, name) for name in operation.parameters("path")} - set(self.world.named)


def open_to_anybody(operation: Operation) -> bool:
    """Operations that answer anybody who is signed in or belongs to the club."""
    vote = CALLS[operation.id]
    path = operation.path
    return (
        vote.outsider < 400
        or "/clubs" in path
        or path.startswith("/api/v1/yards")
        or path.startswith("/api/v1/club-members")
        or path.startswith("/api/v1/assignments")
        or path.startswith("/api/v1/second-opinion-queue")
        or path.startswith("/api/v1/yard-days")
    )


@pytest.fixture
def spy(worlds) -> Eavesdropper:  # noqa: F811
    world = replace(worlds.here, ids=dict(worlds.here.ids))
    # The body is read before access to the boat is checked; its refusal tells nothing of her.
    return Eavesdropper(worlds, world, adviser(world))


def with_findings(world: World) -> None:
    """The adviser has the boat, a visit, a draft with a picture, and submitted findings."""
    visited(world)
    at = f"/assignments/{world['assignment_id']}"
    visit = world.made(adviser(world), "GET", f"{at}/visit")
    world.ids["assignment_visit_id"] = visit["id"]
    body = {"state": "submitted", "findings": [looked(2)], "note": "Dry"}
    world.made(adviser(world), "POST", f"{at}/submissions", body)
    draft = {"findings": [looked(2)], "note": "Wait"}
    world.add("assignment_submission_id", adviser(world), f"{at}/submissions", draft)
    photos = f"{at}/submissions/{world['assignment_submission_id']}/photos"
    form = with_files({"file": "photo.jpg", "checkpoint": "joint"})
    sent = adviser(world).send_form(photos, form).json()
    photo_prepare(photo_id=sent["id"])
    world.ids["assignment_photo_id"] = sent["id"]


def test_before_the_boat_is_taken_on(spy):
    with undone():
        second_opinion_request(spy.world)
        spy.hears(told=("look_request_id",), free=open_to_anybody)
        (row,) = spy.who.get(f"/clubs/{spy.world['club_id']}/second-opinion-queue").json()[
            "results"
        ]
        assert row["id"] == spy.world["look_request_id"]


def test_while_the_adviser_has_her(spy):
    """Her name, place and asking price are told; her yard is one of the group's own here."""
    with undone():
        with_findings(spy.world)
        boat = spy.who.get(f"/assignments/{spy.world['assignment_id']}/candidate").json()
        assert boat["name"] == spy.world.text("Boat of the first list")
        told = json.dumps(boat)
        assert "Under a cover" not in told
        assert "Tell the office" not in told
        of_the_boat = {boat["name"], boat["place"]["yard"], boat["at_yard"]["name"]}

        class OfTheBoat(Eavesdropper):
            """The boat's own texts, which contain the group's word."""

            def kept(self, *, told=()):
                return super().kept(told=(*told, "yard_id")) - {self.world.word}

        heard = OfTheBoat(spy.walk, spy.world, spy.who)
        heard.hears(told=OF_THE_BOAT, free=open_to_anybody)
        word = spy.world.word
        for operation in those(lambda o: o.id not in NOT_TRIED):
            with undone():
                answer = heard.ask(operation)
            said = answer.content.decode(errors="replace").replace(heard.sent, "")
            if word in heard.sent:
                continue
            for words in of_the_boat:
                said = said.replace(json.dumps(words)[1:-1], "")
            assert word not in said, (operation.id, said)


ENDINGS: dict[str, Callable[[World], None]] = {
    "the group ends it": lambda w: end(
        w, f"/second-opinion-requests/{w['look_request_id']}/assignment"
    ),
    "the group withdraws": lambda w: end(w, f"/second-opinion-requests/{w['look_request_id']}"),
    "answered": lambda w: done(w, "answers", {"answer": "Dry."}),
    "handed back": lambda w: done(w, "hand-backs", {"reason": "Shut."}),
    "no adviser any more": lambda w: role(w, role="member"),
    "left the club": lambda w: role(w, ended_at="2025-01-01T00:00Z"),
    "the group left the club": lambda w: end(w, f"/groups/{w['group_id']}/club"),
    "the club let the group go": lambda w: end(w, f"/clubs/{w['club_id']}/groups/{w['group_id']}"),
    "it is in another club": lambda w: (
        type(w.group).objects.filter(pk=w.group.pk).update(club=w["second_club_id"])
    ),
    "the group lost everybody": lambda w: Membership.objects.filter(group=w.group).update(
        ended_at="2025-01-01T00:00Z"
    ),
}


# To call the whole API takes a while: after these. What is told still: that they took it, and
# that it waits for another.
WALKED = {
    "the group ends it": ("assignment_id", "look_request_id"),
    "answered": ("assignment_id",),
    "the group left the club": ("assignment_id",),
    "no adviser any more": ("assignment_id",),
}


def end(world: World, path: str) -> None:
    assert world.organiser.change("DELETE", path).status_code == 204


def done(world: World, how: str, body: dict) -> None:
    world.made(adviser(world), "POST", f"/assignments/{world['assignment_id']}/{how}", body)


def role(world: World, **changed: str) -> None:
    ClubMembership.objects.filter(person=adviser(world).person).update(**changed)


@pytest.mark.parametrize("ending", ENDINGS)
def test_after_it_ended(spy, ending):
    with undone():
        with_findings(spy.world)
        photo = (
            f"/assignments/{spy.world['assignment_id']}/photos/{spy.world['assignment_photo_id']}"
        )
        link = spy.who.get(photo).json()["image"]
        assert Client().get(link).status_code == 200
        ENDINGS[ending](spy.world)
        # The link opens nothing any more, and its answer was not to be cached.
        assert Client().get(link).status_code == 404
        assignment = f"/assignments/{spy.world['assignment_id']}"
        for at in ("candidate", "checklist", "visit", "submissions"):
            assert spy.who.get(f"{assignment}/{at}").status_code == 404, at
        assert spy.who.get(photo).status_code == 404
        shown = spy.who.get(assignment).json()
        assert shown["asked"] is None
        assert shown["ending"]
        if ending in WALKED:
            spy.hears(told=WALKED[ending], free=open_to_anybody)


def test_a_link_is_kept_by_nobody(spy):
    with undone():
        with_findings(spy.world)
        photo = (
            f"/assignments/{spy.world['assignment_id']}/photos/{spy.world['assignment_photo_id']}"
        )
        link = spy.who.get(photo).json()["image"]
        assert Client().get(link)["Cache-Control"] == "private, no-store"
        assert Client().get(link[:-2] + "xx").status_code == 404
        assert Client().get(link.replace("/image", "/original")).status_code == 404


def test_a_link_opens_nothing_once_the_operator_shut_the_account(spy):
    with undone():
        with_findings(spy.world)
        photo = (
            f"/assignments/{spy.world['assignment_id']}/photos/{spy.world['assignment_photo_id']}"
        )
        link = spy.who.get(photo).json()["image"]
        Person.objects.filter(pk=spy.who.person.pk).update(is_active=False)
        assert Client().get(link).status_code == 404


def test_a_link_opens_nothing_once_its_holder_signed_out(spy):
    with undone():
        with_findings(spy.world)
        photo = (
            f"/assignments/{spy.world['assignment_id']}/photos/{spy.world['assignment_photo_id']}"
        )
        link = spy.who.get(photo).json()["image"]
        Token.objects.filter(person=spy.who.person).update(revoked_at=timezone.now())
        assert Client().get(link).status_code == 404


@pytest.mark.parametrize("path", ["submissions", "candidate"])
def test_a_repeat_after_the_end_gets_nothing(spy, path):
    with undone():
        visited(spy.world)
        if path == "candidate":
            second_opinion_request(spy.world, "second_candidate_id")
            at, body = f"/second-opinion-queue/{spy.world['look_request_id']}/assignments", None
        else:
            at = f"/assignments/{spy.world['assignment_id']}/submissions"
            body = {"state": "submitted", "findings": [looked(2)]}
        first = spy.who.send("POST", at, body, Idempotency_Key="k")
        assert first.status_code == 201, first.content
        again = spy.who.send("POST", at, body, Idempotency_Key="k")
        assert again["Idempotent-Replay"] == "true"
        role(spy.world, role="member")
        late = spy.who.send("POST", at, body, Idempotency_Key="k")
        assert late.status_code in (403, 404)
        assert "Idempotent-Replay" not in late
        assert spy.world.word not in late.content.decode()


def test_the_advisers_own_archive_holds_their_words_alone(spy):
    with undone():
        with_findings(spy.world)
        done(spy.world, "answers", {"answer": "As dry as dust."})
        asked = spy.who.post("/people/me/exports").json()["id"]
        archive_jobs.export_make(export_id=asked)
        content = fetched(spy.who.get(f"/exports/{asked}").json())
        archive = unpacked(content)
        assert [row["note"] for row in archive.rows["submissions"]] == ["Dry"]
        assert {row["words"] for row in archive.rows["second_opinion_steps"]} == {
            "",
            "As dry as dust.",
        }
        for nothing in ("viewings", "second_opinion_requests", "candidates", "lists", "groups"):
            assert archive.rows[nothing] == [], nothing
        told = {
            spy.world.ids[name] for name in ("assignment_visit_id", "look_request_id", "adviser")
        }
        said = json.dumps(archive.rows)
        kept = {word for word in spy.world.words - told if word in said}
        assert kept <= {spy.world.ids.get("assignment_photo_id")}


def test_the_feed_of_changes_tells_the_adviser_nothing(spy):
    with undone():
        start = spy.who.get("/changes").json()["cursor"]
        with_findings(spy.world)
        after = spy.who.get(f"/changes?since={start}").json()
        assert after["changes" if "changes" in after else "results"] == []


def test_webhooks_are_the_groups_own(spy):
    """The group's receivers get an adviser's actions; an adviser gets none of the group's."""
    with undone():
        path = f"/groups/{spy.world['group_id']}/webhooks"
        body = {"url": "https://hooks.example.org/in", "note": "Mine"}
        assert spy.who.post(path, body).status_code == 404
        assert not Webhook.objects.filter(note="Mine").exists()


def test_what_the_group_is_told_of_the_adviser_is_their_name(spy):
    """No email of theirs, nothing of their own groups."""
    with undone():
        with_findings(spy.world)
        request = spy.world["look_request_id"]
        for path in (
            f"/second-opinion-requests/{request}",
            f"/second-opinion-requests/{request}/steps",
        ):
            said = spy.world.organiser.get(path).content.decode()
            assert "abe@example.org" not in said
        assert SecondOpinionRequest.objects.get(pk=request).state == "taken"


def test_a_program_that_the_group_shut_out_sees_nothing_through_the_adviser(spy):
    """An adviser may let a program act for them; a group that shut it out shuts it out here."""
    from apps.accounts.access import Access, ClientKind
    from apps.accounts.program_services import program_register
    from apps.groups.models import GroupProgram
    from apps.second_opinions.access import live_assignments

    with undone():
        visited(spy.world)
        person = spy.who.person
        program = program_register(
            name="Gauge",
            redirect_uris=["https://gauge.example.org"],
            scopes=["second_opinions:read"],
        ).program
        person.via = Access(ClientKind.MEMBER_PROGRAM, program.pk, "Gauge")
        try:
            assert live_assignments(person).count() == 1
            GroupProgram.objects.create(group=spy.world.group, program=program, enabled=False)
            assert live_assignments(person).count() == 0
        finally:
            person.via = None


def test_there_is_something_to_hear(spy):
    """The walk calls the right operations; otherwise finding no words would prove nothing."""
    assert len(operations()) > 150
    assert (
        spy.world.word
        in spy.world.organiser.get(f"/candidates/{spy.world['candidate_id']}").content.decode()
    )
