"""An adviser takes a request, looks at the boat, answers or hands back."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from apps.events.models import Event
from apps.groups.models import ClubMembership, Membership
from apps.second_opinions.models import Assignment, SecondOpinionRequest, Step
from apps.viewings.facts import list_findings
from apps.viewings.models import Submission, Viewing
from tests.conftest import pointers
from tests.second_opinions.conftest import QUESTION, SEEN
from tests.viewings.conftest import look


def test_it_works(asking):
    request = asking.asked(checkpoints=["joint"])
    made = asking.assignment(asking.abe, request)
    assert made.status_code == 201, made.content
    asked = made.json()["asked"]
    assert (asked["id"], asked["question"]) == (request, QUESTION)
    assert (asked["name"], asked["asked_by"]["name"]) == ("Heron", "Ben")
    at = f"/assignments/{made.json()['id']}"
    boat = asking.abe.get(f"{at}/candidate").json()
    assert (boat["name"], boat["keel"], boat["loa_m"]) == ("Heron", "bolted_fin", 9.6)
    assert boat["at_yard"]["name"] == "North Quay"
    visit = asking.abe.put(
        f"{at}/visit",
        {"starts_at": "2025-04-05T09:30:00Z", "conditions": {"where": "ashore", "covered": True}},
    )
    assert visit.status_code == 201, visit.content
    checklist = asking.abe.get(f"{at}/checklist").json()
    assert checklist["conditions"]["covered"] is True
    assert checklist["to_ask"] == [], "what the seller is asked, the group asks itself"
    short = asking.abe.get(f"{at}/checklist?minutes=2").json()
    assert (short["minutes"], bool(short["later"])) == (2, True)
    sent = asking.submit(at)
    assert sent.status_code == 201, sent.content
    answered = asking.abe.post(f"{at}/answers", {"answer": "It is dry. Have it looked at."})
    assert answered.status_code == 201, answered.content
    assert answered.json()["asked"] is None
    assert answered.json()["ending"] == "answered"
    told = asking.cast.ben.get(f"/second-opinion-requests/{request}").json()
    assert (told["state"], told["answer"]) == ("answered", "It is dry. Have it looked at.")
    assert told["answered_by"]["name"] == "Abe"
    assert told["submissions"] == [sent.json()["id"]]
    assert asking.steps(request) == [
        ("asked", "Ben"),
        ("taken", "Abe"),
        ("visit_planned", "Abe"),
        ("submitted", "Abe"),
        ("answered", "Abe"),
    ]
    kinds = list(
        Event.objects.filter(thing="second_opinion_request").values_list("kind", flat=True)
    )
    assert kinds[0] == "second_opinion_request.asked"
    assert kinds[-1] == "second_opinion_request.answered"


def test_what_the_adviser_finds_counts_like_a_members(asking):
    before = asking.scene.revision()
    asking.submit(asking.visited(asking.taken()))
    (found,) = list_findings(asking.scene.list.pk)
    assert (found.author_id, found.checkpoint, found.level) == (
        asking.abe.person.pk,
        "joint",
        2,
    )
    assert asking.scene.revision() == before + 1
    read = asking.cast.ivy.get(f"/candidates/{asking.scene.heron.id}/submissions").json()["results"]
    assert [row["author"]["name"] for row in read] == ["Abe"]
    assert Viewing.objects.get(people=asking.abe.person).state == "made"


@pytest.mark.parametrize(
    ("changed", "at"),
    [
        ({"vote": "strike"}, "/vote"),
        ({"capacity": "professional", "profession": "surveyor"}, "/capacity"),
        ({"findings": [look("nothing", 1)]}, "/findings/0/checkpoint"),
        ({"supersedes": "01900000-0000-7000-8000-000000000000"}, "/supersedes"),
    ],
)
def test_what_an_outsider_may_not_say(asking, changed, at):
    """What an outsider submits clears no doubt and casts no vote."""
    assert pointers(asking.submit(asking.visited(asking.taken()), **changed)) == {at}
    assert not Submission.objects.exists()


def test_findings_need_a_visit(asking):
    assert asking.submit(asking.taken()).json()["code"] == "no_visit"


def test_drafts_are_replaced_discarded_and_submitted(asking):
    assignment = asking.visited(asking.taken())
    draft = asking.submit(assignment, state="draft").json()
    path = f"{assignment}/submissions/{draft['id']}"
    changed = asking.abe.change("PUT", path, {"state": "draft", "note": "Later", "findings": []})
    assert changed.status_code == 200, changed.content
    assert asking.abe.put(path, {"findings": []}).status_code == 428
    assert asking.abe.put(path, {"findings": []}, If_Match='"other"').status_code == 412
    assert asking.amy.get(path).status_code == 404
    assert asking.cast.ben.get(path).status_code == 404
    assert asking.abe.change("DELETE", path).status_code == 204
    second = asking.submit(assignment, state="draft").json()["id"]
    sent = asking.abe.change(
        "PUT", f"{assignment}/submissions/{second}", {"state": "submitted", "findings": SEEN}
    )
    assert sent.json()["state"] == "submitted"
    assert asking.abe.change("DELETE", f"{assignment}/submissions/{second}").status_code == 409
    assert [row["id"] for row in asking.abe.get(f"{assignment}/submissions").json()["results"]] == [
        second
    ]


def test_the_visit_is_moved(asking):
    assignment = asking.visited(asking.taken())
    body = {"starts_at": "2025-04-06T09:30:00Z", "conditions": {"light": "poor"}}
    assert asking.abe.put(f"{assignment}/visit", body).status_code == 428
    moved = asking.abe.change("PUT", f"{assignment}/visit", body)
    assert moved.status_code == 200, moved.content
    assert moved.json()["conditions"]["where"] == "ashore"
    assert Viewing.objects.filter(people=asking.abe.person).count() == 1
    assert pointers(asking.abe.change("PUT", f"{assignment}/visit", {"starts_at": "soon"})) == {
        "/starts_at"
    }


# --- Who takes it --------------------------------------------------------------------------------


def test_one_taker_at_a_time(asking):
    request = asking.asked()
    assert asking.assignment(asking.abe, request).status_code == 201
    late = asking.assignment(asking.amy, request)
    assert (late.status_code, late.json()["code"]) == (409, "taken")
    assert Assignment.objects.count() == 1
    with pytest.raises(IntegrityError), transaction.atomic():
        Assignment.objects.create(request_id=request, person=asking.amy.person)


def test_whoever_is_no_adviser_is_told_nothing(asking):
    request = asking.asked()
    for who in (
        asking.mo,
        asking.cast.sten,
        asking.cast.wim,
        asking.cast.ben,
        asking.cast.ola,
    ):
        assert asking.assignment(who, request).status_code == 404
        assert who.post(f"/second-opinion-queue/{request}/declines").status_code == 404
    assert (
        asking.cast.nobody.post(f"/second-opinion-queue/{request}/assignments").status_code == 401
    )


def test_nobody_gives_their_own_group_a_second_opinion(asking):
    request = asking.asked()
    Membership.objects.create(
        group=asking.cast.group,
        person=asking.abe.person,
        role="observer",
        buys=False,
    )
    assert asking.seen_by(asking.abe) == []
    assert asking.assignment(asking.abe, request).status_code == 404


def test_nobody_takes_on_more_than_the_club_allows(asking):
    assert (
        asking.sef.change(
            "PATCH", f"/clubs/{asking.club.id}/second-opinion-settings", {"most_taken": 2}
        ).status_code
        == 200
    )
    boats = [
        asking.scene.heron,
        asking.scene.dunlin,
        asking.another_group("Gannet", asking.cast.sten),
    ]
    for boat in boats[:2]:
        asking.taken(boat=boat)
    third = asking.asked(asking.cast.sten, boats[2])
    full = asking.assignment(asking.abe, third)
    assert (full.status_code, full.json()["code"]) == (409, "has_enough")
    assignment = asking.abe.get("/assignments").json()["results"][0]["id"]
    asking.abe.post(f"/assignments/{assignment}/hand-backs", {"reason": "No time"})
    assert asking.assignment(asking.abe, third).status_code == 201


def test_a_repeat_takes_the_boat_on_once(asking):
    path = f"/second-opinion-queue/{asking.asked()}/assignments"
    first = asking.abe.post(path, Idempotency_Key="k")
    again = asking.abe.post(path, Idempotency_Key="k")
    assert again["Idempotent-Replay"] == "true"
    assert again.json() == first.json()
    assert Assignment.objects.count() == 1


# --- Nobody is asked twice -----------------------------------------------------------------------


def test_whoever_declined_is_not_offered_it_again(asking):
    request = asking.asked()
    declined = asking.abe.post(f"/second-opinion-queue/{request}/declines", {"reason": "Too far"})
    assert declined.status_code == 204, declined.content
    assert asking.seen_by(asking.abe) == []
    assert [row["id"] for row in asking.seen_by(asking.amy)] == [request]
    assert asking.assignment(asking.abe, request).json()["code"] == "had_before"
    # Another question about the same boat is not offered either.
    asking.asked(question="And the mast?")
    assert asking.seen_by(asking.abe) == []
    assert asking.steps(request)[-1] == ("declined", "Abe")


def test_whoever_answered_is_not_offered_the_boat_again(asking):
    asking.abe.post(f"{asking.taken()}/answers", {"answer": "It is fine."})
    asking.asked(question="And the mast?")
    assert asking.seen_by(asking.abe) == []
    assert len(asking.seen_by(asking.amy)) == 1


def test_the_secretary_asks_one_adviser(asking):
    request = asking.asked()
    path = f"/second-opinion-queue/{request}/offers"
    offered = asking.sef.post(path, {"adviser": str(asking.amy.person.pk)})
    assert offered.status_code == 201, offered.content
    assert offered.json()["offered_to"]["name"] == "Amy"
    assert asking.seen_by(asking.abe) == []
    assert asking.assignment(asking.abe, request).json()["code"] == "taken"
    assert asking.seen_by(asking.amy)[0]["offered_to_you"] is True
    asking.amy.post(f"/second-opinion-queue/{request}/declines", {"reason": "Away"})
    assert asking.seen_by(asking.amy) == []
    assert len(asking.seen_by(asking.abe)) == 1
    again = asking.sef.post(path, {"adviser": str(asking.amy.person.pk)})
    assert pointers(again) == {"/adviser"}
    assert ("offered", "Sef") in asking.steps(request)


def test_who_asks_advisers(asking):
    path = f"/second-opinion-queue/{asking.asked()}/offers"
    body = {"adviser": str(asking.amy.person.pk)}
    refused = asking.abe.post(path, body)
    assert (refused.status_code, refused.json()["roles"]) == (403, ["secretary"])
    for who in (asking.mo, asking.cast.sten, asking.cast.ola):
        assert who.post(path, body).status_code == 404
    for nobody in (asking.mo, asking.cast.sten, asking.cast.ben):
        assert pointers(asking.sef.post(path, {"adviser": str(nobody.person.pk)})) == {"/adviser"}
    assert pointers(asking.sef.post(path, {})) == {"/adviser"}


# --- Done with it --------------------------------------------------------------------------------


def test_an_answer_says_something(asking):
    assignment = asking.visited(asking.taken())
    assert pointers(asking.abe.post(f"{assignment}/answers", {})) == {"/answer"}
    asking.submit(assignment, state="draft")
    assert pointers(asking.abe.post(f"{assignment}/answers", {})) == {"/answer"}
    asking.submit(assignment)
    assert asking.abe.post(f"{assignment}/answers", {}).status_code == 201


def test_handed_back_it_waits_for_another(asking):
    assignment = asking.visited(asking.taken())
    request = asking.request_of(assignment)
    draft = asking.submit(assignment, state="draft").json()["id"]
    assert pointers(asking.abe.post(f"{assignment}/hand-backs", {})) == {"/reason"}
    back = asking.abe.post(f"{assignment}/hand-backs", {"reason": "The yard was shut"})
    assert back.status_code == 201, back.content
    assert (back.json()["ending"], back.json()["asked"]) == ("handed_back", None)
    assert not Submission.objects.filter(pk=draft).exists()
    assert asking.seen_by(asking.abe) == []
    assert [row["id"] for row in asking.seen_by(asking.amy)] == [request]
    assert asking.steps(request)[-1] == ("handed_back", "Abe")
    rows = asking.cast.ivy.get(f"/second-opinion-requests/{request}/steps").json()["results"]
    assert rows[-1]["words"] == "The yard was shut"
    # The visit is off: nobody waits in the yard.
    assert Viewing.objects.get(assignment__isnull=False).state == "called_off"


@pytest.mark.parametrize("done", ["answers", "hand-backs"])
def test_a_repeat_of_the_last_call_gets_its_answer(asking, done):
    assignment = asking.taken()
    body = {"answer": "Fine."} if done == "answers" else {"reason": "Away"}
    first = asking.abe.post(f"{assignment}/{done}", body, Idempotency_Key="k")
    again = asking.abe.post(f"{assignment}/{done}", body, Idempotency_Key="k")
    assert (first.status_code, again.status_code) == (201, 201), again.content
    assert again["Idempotent-Replay"] == "true"
    assert asking.abe.post(f"{assignment}/{done}", body).status_code == 404


# --- The group ends it ---------------------------------------------------------------------------


def test_the_group_ends_the_access(asking):
    assignment = asking.visited(asking.taken())
    request = asking.request_of(assignment)
    path = f"/second-opinion-requests/{request}/assignment"
    assert asking.cast.ivy.get(path).json()["person"]["name"] == "Abe"
    assert asking.cast.ivy.change("DELETE", path).status_code == 403
    assert asking.cast.ben.delete(path).status_code == 428
    assert asking.cast.ben.delete(path, If_Match='"other"').status_code == 412
    assert asking.cast.ben.change("DELETE", path).status_code == 204
    for at in ("candidate", "checklist", "visit", "submissions"):
        assert asking.abe.get(f"{assignment}/{at}").status_code == 404
    assert asking.submit(assignment).status_code == 404
    assert asking.abe.get(assignment).json()["ending"] == "ended"
    assert asking.cast.ivy.get(path).status_code == 404
    assert [row["id"] for row in asking.seen_by(asking.amy)] == [request]
    assert asking.steps(request)[-1] == ("access_ended", "Ben")


def test_what_was_submitted_stays_with_the_group(asking):
    assignment = asking.visited(asking.taken())
    sent = asking.submit(assignment).json()["id"]
    request = asking.request_of(assignment)
    assert (
        asking.cast.ben.change("DELETE", f"/second-opinion-requests/{request}").status_code == 204
    )
    assert asking.abe.get(f"{assignment}/submissions/{sent}").status_code == 404
    assert asking.abe.get(f"/submissions/{sent}").status_code == 404
    assert asking.cast.ben.get(f"/submissions/{sent}").status_code == 200
    assert asking.cast.ben.get(f"/second-opinion-requests/{request}").json()["submissions"] == [
        sent
    ]


def lose_office(asking):
    membership = ClubMembership.objects.get(person=asking.abe.person)
    asking.sef.change("PUT", f"/club-members/{membership.pk}", {"role": "member"})


def leave_club(asking):
    membership = ClubMembership.objects.get(person=asking.abe.person)
    asking.abe.change("DELETE", f"/club-members/{membership.pk}")


def join_group(asking):
    token = asking.cast.ola.post(
        f"/groups/{asking.cast.group.id}/invitations", {"role": "helper"}
    ).json()["token"]
    asking.abe.post("/acceptances", {"token": token})


@pytest.mark.parametrize("lost", [lose_office, leave_club, join_group])
def test_access_goes_with_what_it_rests_on(asking, lost):
    assignment = asking.visited(asking.taken())
    request = asking.request_of(assignment)
    draft = asking.submit(assignment, state="draft").json()["id"]
    lost(asking)
    assert asking.abe.get(f"{assignment}/candidate").status_code == 404
    assert asking.abe.get(assignment).json()["ending"] == "lapsed"
    assert SecondOpinionRequest.objects.get(pk=request).state == "waiting"
    assert asking.steps(request)[-1] == ("access_lapsed", None)
    assert not Submission.objects.filter(pk=draft).exists()


def test_access_is_gone_even_where_nobody_noted_what_went(asking):
    """An operator, for example, changes a row without the services: every request checks again."""
    assignment = asking.taken()
    ClubMembership.objects.filter(person=asking.abe.person).update(role="member")
    assert asking.abe.get(f"{assignment}/candidate").status_code == 404
    shown = asking.abe.get(assignment).json()
    assert (shown["asked"], shown["ending"]) == (None, "lapsed")


def test_the_log_only_grows(asking):
    asking.abe.post(f"/second-opinion-queue/{asking.asked()}/declines")
    before = list(Step.objects.order_by("pk").values_list("pk", flat=True))
    asking.taken(asking.amy, SecondOpinionRequest.objects.get().pk)
    assert list(Step.objects.order_by("pk").values_list("pk", flat=True))[:2] == before


# --- Workload ------------------------------------------------------------------------------------


def test_the_workload_is_seen_and_spread(asking):
    path = f"/clubs/{asking.club.id}/second-opinion-workload"
    asking.abe.post(f"{asking.taken()}/answers", {"answer": "Fine."})
    asking.taken(boat=asking.scene.dunlin)
    rows = {row["person"]["name"]: row for row in asking.amy.get(path).json()["results"]}
    assert {name: (r["has"], r["took"], r["answered"]) for name, r in rows.items()} == {
        "Sef": (0, 0, 0),
        "Abe": (1, 2, 1),
        "Amy": (0, 0, 0),
    }
    last_year = (timezone.now() - timedelta(days=400)).date()
    earlier = asking.amy.get(f"{path}?until={last_year}&since={last_year}").json()["results"]
    assert {row["took"] for row in earlier} == {0}
    gannet = asking.another_group("Gannet", asking.cast.sten)
    asking.asked(asking.cast.sten, gannet)
    (row,) = asking.seen_by(asking.sef, "?whole=true")
    assert row["suggested"]["name"] in ("Sef", "Amy")
    asking.taken(asking.sef, boat=asking.scene.heron, question="What else?")
    (row,) = asking.seen_by(asking.sef, "?whole=true")
    assert row["suggested"]["name"] == "Amy"
    Membership.objects.create(
        group=gannet.list.group, person=asking.amy.person, role="observer", buys=False
    )
    (row,) = asking.seen_by(asking.sef, "?whole=true")
    assert row["suggested"]["name"] != "Amy"


def test_who_sees_the_workload(asking):
    path = f"/clubs/{asking.club.id}/second-opinion-workload"
    assert asking.mo.get(path).status_code == 403
    assert asking.cast.sten.get(path).status_code == 404
    assert pointers(asking.abe.get(f"{path}?since=yesterday")) == {"?since"}


# --- How the club works --------------------------------------------------------------------------


def test_the_settings_of_second_opinions_are_changed(asking):
    path = f"/clubs/{asking.club.id}/second-opinion-settings"
    before = asking.mo.get(path)
    assert before.json() == {
        "version": 0,
        "club": str(asking.club.id),
        "most_taken": 3,
        "currency": "",
    }
    assert asking.abe.change("PATCH", path, {"most_taken": 1}).status_code == 403
    assert asking.sef.patch(path, {"most_taken": 1}).status_code == 428
    changed = asking.sef.change("PATCH", path, {"most_taken": 5, "currency": "EUR"})
    assert changed.status_code == 200, changed.content
    assert asking.mo.get(path).json()["most_taken"] == 5
    late = asking.sef.patch(path, {"most_taken": 1}, If_Match=before["ETag"])
    assert late.status_code == 412
    assert pointers(asking.sef.change("PATCH", path, {"most_taken": 0})) == {"/most_taken"}
    assert pointers(asking.sef.change("PATCH", path, {"currency": "XYZ"})) == {"/currency"}
    assert asking.cast.sten.get(path).status_code == 404
