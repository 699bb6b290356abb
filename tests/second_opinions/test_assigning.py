"""An adviser takes a request on, looks at that boat, answers or hands back."""

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


def test_it_works(opinion_settings):
    request = opinion_settings.asked(checkpoints=["joint"])
    made = opinion_settings.assignment(opinion_settings.abe, request)
    assert made.status_code == 201, made.content
    asked = made.json()["asked"]
    assert (asked["id"], asked["question"]) == (request, QUESTION)
    assert (asked["name"], asked["asked_by"]["name"]) == ("Heron", "Ben")
    at = f"/assignments/{made.json()['id']}"
    boat = opinion_settings.abe.get(f"{at}/candidate").json()
    assert (boat["name"], boat["keel"], boat["loa_m"]) == ("Heron", "bolted_fin", 9.6)
    assert boat["at_yard"]["name"] == "North Quay"
    visit = opinion_settings.abe.put(
        f"{at}/visit",
        {"starts_at": "2025-04-05T09:30:00Z", "conditions": {"where": "ashore", "covered": True}},
    )
    assert visit.status_code == 201, visit.content
    checklist = opinion_settings.abe.get(f"{at}/checklist").json()
    assert checklist["conditions"]["covered"] is True
    assert checklist["to_ask"] == [], "what the seller is asked, the group asks itself"
    short = opinion_settings.abe.get(f"{at}/checklist?minutes=2").json()
    assert (short["minutes"], bool(short["later"])) == (2, True)
    sent = opinion_settings.submit(at)
    assert sent.status_code == 201, sent.content
    answered = opinion_settings.abe.post(
        f"{at}/answers", {"answer": "It is dry. Have it looked at."}
    )
    assert answered.status_code == 201, answered.content
    assert answered.json()["asked"] is None
    assert answered.json()["ending"] == "answered"
    told = opinion_settings.cast.ben.get(f"/second-opinion-requests/{request}").json()
    assert (told["state"], told["answer"]) == ("answered", "It is dry. Have it looked at.")
    assert told["answered_by"]["name"] == "Abe"
    assert told["submissions"] == [sent.json()["id"]]
    assert opinion_settings.steps(request) == [
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


def test_what_the_adviser_finds_counts_like_a_members(opinion_settings):
    before = opinion_settings.scene.revision()
    opinion_settings.submit(opinion_settings.visited(opinion_settings.taken()))
    (found,) = list_findings(opinion_settings.scene.list.pk)
    assert (found.author_id, found.checkpoint, found.level) == (
        opinion_settings.abe.person.pk,
        "joint",
        2,
    )
    assert opinion_settings.scene.revision() == before + 1
    read = opinion_settings.cast.ivy.get(
        f"/candidates/{opinion_settings.scene.heron.id}/submissions"
    ).json()["results"]
    assert [row["author"]["name"] for row in read] == ["Abe"]
    assert Viewing.objects.get(people=opinion_settings.abe.person).state == "made"


@pytest.mark.parametrize(
    ("changed", "at"),
    [
        ({"vote": "strike"}, "/vote"),
        ({"capacity": "professional", "profession": "surveyor"}, "/capacity"),
        ({"findings": [look("nothing", 1)]}, "/findings/0/checkpoint"),
        ({"supersedes": "01900000-0000-7000-8000-000000000000"}, "/supersedes"),
    ],
)
def test_what_an_outsider_may_not_say(opinion_settings, changed, at):
    """A favour of somebody from outside clears no doubt and gives no opinion."""
    assert pointers(
        opinion_settings.submit(opinion_settings.visited(opinion_settings.taken()), **changed)
    ) == {at}
    assert not Submission.objects.exists()


def test_findings_need_a_visit(opinion_settings):
    assert opinion_settings.submit(opinion_settings.taken()).json()["code"] == "no_visit"


def test_drafts_are_replaced_discarded_and_submitted(opinion_settings):
    assignment = opinion_settings.visited(opinion_settings.taken())
    draft = opinion_settings.submit(assignment, state="draft").json()
    path = f"{assignment}/submissions/{draft['id']}"
    changed = opinion_settings.abe.change(
        "PUT", path, {"state": "draft", "note": "Later", "findings": []}
    )
    assert changed.status_code == 200, changed.content
    assert opinion_settings.abe.put(path, {"findings": []}).status_code == 428
    assert opinion_settings.abe.put(path, {"findings": []}, If_Match='"other"').status_code == 412
    assert opinion_settings.amy.get(path).status_code == 404
    assert opinion_settings.cast.ben.get(path).status_code == 404
    assert opinion_settings.abe.change("DELETE", path).status_code == 204
    second = opinion_settings.submit(assignment, state="draft").json()["id"]
    sent = opinion_settings.abe.change(
        "PUT", f"{assignment}/submissions/{second}", {"state": "submitted", "findings": SEEN}
    )
    assert sent.json()["state"] == "submitted"
    assert (
        opinion_settings.abe.change("DELETE", f"{assignment}/submissions/{second}").status_code
        == 409
    )
    assert [
        row["id"] for row in opinion_settings.abe.get(f"{assignment}/submissions").json()["results"]
    ] == [second]


def test_the_visit_is_moved(opinion_settings):
    assignment = opinion_settings.visited(opinion_settings.taken())
    body = {"starts_at": "2025-04-06T09:30:00Z", "conditions": {"light": "poor"}}
    assert opinion_settings.abe.put(f"{assignment}/visit", body).status_code == 428
    moved = opinion_settings.abe.change("PUT", f"{assignment}/visit", body)
    assert moved.status_code == 200, moved.content
    assert moved.json()["conditions"]["where"] == "ashore"
    assert Viewing.objects.filter(people=opinion_settings.abe.person).count() == 1
    assert pointers(
        opinion_settings.abe.change("PUT", f"{assignment}/visit", {"starts_at": "soon"})
    ) == {"/starts_at"}


# --- Who takes it --------------------------------------------------------------------------------


def test_one_taker_at_a_time(opinion_settings):
    request = opinion_settings.asked()
    assert opinion_settings.assignment(opinion_settings.abe, request).status_code == 201
    late = opinion_settings.assignment(opinion_settings.amy, request)
    assert (late.status_code, late.json()["code"]) == (409, "taken")
    assert Assignment.objects.count() == 1
    with pytest.raises(IntegrityError), transaction.atomic():
        Assignment.objects.create(request_id=request, person=opinion_settings.amy.person)


def test_whoever_is_no_adviser_is_told_nothing(opinion_settings):
    request = opinion_settings.asked()
    for who in (
        opinion_settings.mo,
        opinion_settings.cast.sten,
        opinion_settings.cast.wim,
        opinion_settings.cast.ben,
        opinion_settings.cast.ola,
    ):
        assert opinion_settings.assignment(who, request).status_code == 404
        assert who.post(f"/second-opinion-queue/{request}/declines").status_code == 404
    assert (
        opinion_settings.cast.nobody.post(
            f"/second-opinion-queue/{request}/assignments"
        ).status_code
        == 401
    )


def test_nobody_gives_their_own_group_a_second_opinion(opinion_settings):
    request = opinion_settings.asked()
    Membership.objects.create(
        group=opinion_settings.cast.group,
        person=opinion_settings.abe.person,
        role="observer",
        buys=False,
    )
    assert opinion_settings.seen_by(opinion_settings.abe) == []
    assert opinion_settings.assignment(opinion_settings.abe, request).status_code == 404


def test_nobody_has_more_than_the_opinion_settings_lets_them(opinion_settings):
    assert (
        opinion_settings.sef.change(
            "PATCH", f"/clubs/{opinion_settings.club.id}/second-opinion-settings", {"most_taken": 2}
        ).status_code
        == 200
    )
    boats = [
        opinion_settings.scene.heron,
        opinion_settings.scene.dunlin,
        opinion_settings.another_group("Gannet", opinion_settings.cast.sten),
    ]
    for boat in boats[:2]:
        opinion_settings.taken(boat=boat)
    third = opinion_settings.asked(opinion_settings.cast.sten, boats[2])
    full = opinion_settings.assignment(opinion_settings.abe, third)
    assert (full.status_code, full.json()["code"]) == (409, "has_enough")
    assignment = opinion_settings.abe.get("/assignments").json()["results"][0]["id"]
    opinion_settings.abe.post(f"/assignments/{assignment}/hand-backs", {"reason": "No time"})
    assert opinion_settings.assignment(opinion_settings.abe, third).status_code == 201


def test_a_repeat_assignments_once(opinion_settings):
    path = f"/second-opinion-queue/{opinion_settings.asked()}/assignments"
    first = opinion_settings.abe.post(path, Idempotency_Key="k")
    again = opinion_settings.abe.post(path, Idempotency_Key="k")
    assert again["Idempotent-Replay"] == "true"
    assert again.json() == first.json()
    assert Assignment.objects.count() == 1


# --- Nobody is asked twice -----------------------------------------------------------------------


def test_whoever_declined_is_not_offered_it_again(opinion_settings):
    request = opinion_settings.asked()
    declined = opinion_settings.abe.post(
        f"/second-opinion-queue/{request}/declines", {"reason": "Too far"}
    )
    assert declined.status_code == 204, declined.content
    assert opinion_settings.seen_by(opinion_settings.abe) == []
    assert [row["id"] for row in opinion_settings.seen_by(opinion_settings.amy)] == [request]
    assert opinion_settings.assignment(opinion_settings.abe, request).json()["code"] == "had_before"
    # Nor another question about the same boat.
    opinion_settings.asked(question="And the mast?")
    assert opinion_settings.seen_by(opinion_settings.abe) == []
    assert opinion_settings.steps(request)[-1] == ("declined", "Abe")


def test_whoever_answered_is_not_offered_the_boat_again(opinion_settings):
    opinion_settings.abe.post(f"{opinion_settings.taken()}/answers", {"answer": "It is fine."})
    opinion_settings.asked(question="And the mast?")
    assert opinion_settings.seen_by(opinion_settings.abe) == []
    assert len(opinion_settings.seen_by(opinion_settings.amy)) == 1


def test_the_secretary_asks_one_adviser(opinion_settings):
    request = opinion_settings.asked()
    path = f"/second-opinion-queue/{request}/offers"
    offered = opinion_settings.sef.post(path, {"adviser": str(opinion_settings.amy.person.pk)})
    assert offered.status_code == 201, offered.content
    assert offered.json()["offered_to"]["name"] == "Amy"
    assert opinion_settings.seen_by(opinion_settings.abe) == []
    assert opinion_settings.assignment(opinion_settings.abe, request).json()["code"] == "taken"
    assert opinion_settings.seen_by(opinion_settings.amy)[0]["offered_to_you"] is True
    opinion_settings.amy.post(f"/second-opinion-queue/{request}/declines", {"reason": "Away"})
    assert opinion_settings.seen_by(opinion_settings.amy) == []
    assert len(opinion_settings.seen_by(opinion_settings.abe)) == 1
    again = opinion_settings.sef.post(path, {"adviser": str(opinion_settings.amy.person.pk)})
    assert pointers(again) == {"/adviser"}
    assert ("offered", "Sef") in opinion_settings.steps(request)


def test_who_asks_advisers(opinion_settings):
    path = f"/second-opinion-queue/{opinion_settings.asked()}/offers"
    body = {"adviser": str(opinion_settings.amy.person.pk)}
    refused = opinion_settings.abe.post(path, body)
    assert (refused.status_code, refused.json()["roles"]) == (403, ["secretary"])
    for who in (opinion_settings.mo, opinion_settings.cast.sten, opinion_settings.cast.ola):
        assert who.post(path, body).status_code == 404
    for nobody in (opinion_settings.mo, opinion_settings.cast.sten, opinion_settings.cast.ben):
        assert pointers(opinion_settings.sef.post(path, {"adviser": str(nobody.person.pk)})) == {
            "/adviser"
        }
    assert pointers(opinion_settings.sef.post(path, {})) == {"/adviser"}


# --- Done with it --------------------------------------------------------------------------------


def test_an_answer_says_something(opinion_settings):
    assignment = opinion_settings.visited(opinion_settings.taken())
    assert pointers(opinion_settings.abe.post(f"{assignment}/answers", {})) == {"/answer"}
    opinion_settings.submit(assignment, state="draft")
    assert pointers(opinion_settings.abe.post(f"{assignment}/answers", {})) == {"/answer"}
    opinion_settings.submit(assignment)
    assert opinion_settings.abe.post(f"{assignment}/answers", {}).status_code == 201


def test_handed_back_it_waits_for_another(opinion_settings):
    assignment = opinion_settings.visited(opinion_settings.taken())
    request = opinion_settings.request_of(assignment)
    draft = opinion_settings.submit(assignment, state="draft").json()["id"]
    assert pointers(opinion_settings.abe.post(f"{assignment}/hand-backs", {})) == {"/reason"}
    back = opinion_settings.abe.post(f"{assignment}/hand-backs", {"reason": "The yard was shut"})
    assert back.status_code == 201, back.content
    assert (back.json()["ending"], back.json()["asked"]) == ("handed_back", None)
    assert not Submission.objects.filter(pk=draft).exists()
    assert opinion_settings.seen_by(opinion_settings.abe) == []
    assert [row["id"] for row in opinion_settings.seen_by(opinion_settings.amy)] == [request]
    assert opinion_settings.steps(request)[-1] == ("handed_back", "Abe")
    rows = opinion_settings.cast.ivy.get(f"/second-opinion-requests/{request}/steps").json()[
        "results"
    ]
    assert rows[-1]["words"] == "The yard was shut"
    # The visit is off: nobody waits in the yard.
    assert Viewing.objects.get(assignment__isnull=False).state == "called_off"


@pytest.mark.parametrize("done", ["answers", "hand-backs"])
def test_a_repeat_of_the_last_call_gets_its_answer(opinion_settings, done):
    assignment = opinion_settings.taken()
    body = {"answer": "Fine."} if done == "answers" else {"reason": "Away"}
    first = opinion_settings.abe.post(f"{assignment}/{done}", body, Idempotency_Key="k")
    again = opinion_settings.abe.post(f"{assignment}/{done}", body, Idempotency_Key="k")
    assert (first.status_code, again.status_code) == (201, 201), again.content
    assert again["Idempotent-Replay"] == "true"
    assert opinion_settings.abe.post(f"{assignment}/{done}", body).status_code == 404


# --- The group ends it ---------------------------------------------------------------------------


def test_the_group_ends_the_access(opinion_settings):
    assignment = opinion_settings.visited(opinion_settings.taken())
    request = opinion_settings.request_of(assignment)
    path = f"/second-opinion-requests/{request}/assignment"
    assert opinion_settings.cast.ivy.get(path).json()["person"]["name"] == "Abe"
    assert opinion_settings.cast.ivy.change("DELETE", path).status_code == 403
    assert opinion_settings.cast.ben.delete(path).status_code == 428
    assert opinion_settings.cast.ben.delete(path, If_Match='"other"').status_code == 412
    assert opinion_settings.cast.ben.change("DELETE", path).status_code == 204
    for at in ("candidate", "checklist", "visit", "submissions"):
        assert opinion_settings.abe.get(f"{assignment}/{at}").status_code == 404
    assert opinion_settings.submit(assignment).status_code == 404
    assert opinion_settings.abe.get(assignment).json()["ending"] == "ended"
    assert opinion_settings.cast.ivy.get(path).status_code == 404
    assert [row["id"] for row in opinion_settings.seen_by(opinion_settings.amy)] == [request]
    assert opinion_settings.steps(request)[-1] == ("access_ended", "Ben")


def test_what_was_submitted_stays_with_the_group(opinion_settings):
    assignment = opinion_settings.visited(opinion_settings.taken())
    sent = opinion_settings.submit(assignment).json()["id"]
    request = opinion_settings.request_of(assignment)
    assert (
        opinion_settings.cast.ben.change(
            "DELETE", f"/second-opinion-requests/{request}"
        ).status_code
        == 204
    )
    assert opinion_settings.abe.get(f"{assignment}/submissions/{sent}").status_code == 404
    assert opinion_settings.abe.get(f"/submissions/{sent}").status_code == 404
    assert opinion_settings.cast.ben.get(f"/submissions/{sent}").status_code == 200
    assert opinion_settings.cast.ben.get(f"/second-opinion-requests/{request}").json()[
        "submissions"
    ] == [sent]


def lose_office(opinion_settings):
    membership = ClubMembership.objects.get(person=opinion_settings.abe.person)
    opinion_settings.sef.change("PUT", f"/club-members/{membership.pk}", {"role": "member"})


def leave_club(opinion_settings):
    membership = ClubMembership.objects.get(person=opinion_settings.abe.person)
    opinion_settings.abe.change("DELETE", f"/club-members/{membership.pk}")


def join_group(opinion_settings):
    token = opinion_settings.cast.ola.post(
        f"/groups/{opinion_settings.cast.group.id}/invitations", {"role": "helper"}
    ).json()["token"]
    opinion_settings.abe.post("/acceptances", {"token": token})


@pytest.mark.parametrize("lost", [lose_office, leave_club, join_group])
def test_access_goes_with_what_it_rests_on(opinion_settings, lost):
    assignment = opinion_settings.visited(opinion_settings.taken())
    request = opinion_settings.request_of(assignment)
    draft = opinion_settings.submit(assignment, state="draft").json()["id"]
    lost(opinion_settings)
    assert opinion_settings.abe.get(f"{assignment}/candidate").status_code == 404
    assert opinion_settings.abe.get(assignment).json()["ending"] == "lapsed"
    assert SecondOpinionRequest.objects.get(pk=request).state == "waiting"
    assert opinion_settings.steps(request)[-1] == ("access_lapsed", None)
    assert not Submission.objects.filter(pk=draft).exists()


def test_access_is_gone_even_where_nobody_noted_what_went(opinion_settings):
    """A row changed past the services, by an operator say: every request asks anew."""
    assignment = opinion_settings.taken()
    ClubMembership.objects.filter(person=opinion_settings.abe.person).update(role="member")
    assert opinion_settings.abe.get(f"{assignment}/candidate").status_code == 404
    shown = opinion_settings.abe.get(assignment).json()
    assert (shown["asked"], shown["ending"]) == (None, "lapsed")


def test_the_log_only_grows(opinion_settings):
    opinion_settings.abe.post(f"/second-opinion-queue/{opinion_settings.asked()}/declines")
    before = list(Step.objects.order_by("pk").values_list("pk", flat=True))
    opinion_settings.taken(opinion_settings.amy, SecondOpinionRequest.objects.get().pk)
    assert list(Step.objects.order_by("pk").values_list("pk", flat=True))[:2] == before


# --- Workload ------------------------------------------------------------------------------------


def test_the_workload_is_seen_and_spread(opinion_settings):
    path = f"/clubs/{opinion_settings.club.id}/second-opinion-settings/workload"
    opinion_settings.abe.post(f"{opinion_settings.taken()}/answers", {"answer": "Fine."})
    opinion_settings.taken(boat=opinion_settings.scene.dunlin)
    rows = {row["person"]["name"]: row for row in opinion_settings.amy.get(path).json()["results"]}
    assert {name: (r["has"], r["took"], r["answered"]) for name, r in rows.items()} == {
        "Sef": (0, 0, 0),
        "Abe": (1, 2, 1),
        "Amy": (0, 0, 0),
    }
    last_year = (timezone.now() - timedelta(days=400)).date()
    earlier = opinion_settings.amy.get(f"{path}?until={last_year}&since={last_year}").json()[
        "results"
    ]
    assert {row["took"] for row in earlier} == {0}
    gannet = opinion_settings.another_group("Gannet", opinion_settings.cast.sten)
    opinion_settings.asked(opinion_settings.cast.sten, gannet)
    (row,) = opinion_settings.seen_by(opinion_settings.sef, "?whole=true")
    assert row["suggested"]["name"] in ("Sef", "Amy")
    opinion_settings.taken(
        opinion_settings.sef, boat=opinion_settings.scene.heron, question="What else?"
    )
    (row,) = opinion_settings.seen_by(opinion_settings.sef, "?whole=true")
    assert row["suggested"]["name"] == "Amy"
    Membership.objects.create(
        group=gannet.list.group, person=opinion_settings.amy.person, role="observer", buys=False
    )
    (row,) = opinion_settings.seen_by(opinion_settings.sef, "?whole=true")
    assert row["suggested"]["name"] != "Amy"


def test_who_sees_the_workload(opinion_settings):
    path = f"/clubs/{opinion_settings.club.id}/second-opinion-settings/workload"
    assert opinion_settings.mo.get(path).status_code == 403
    assert opinion_settings.cast.sten.get(path).status_code == 404
    assert pointers(opinion_settings.abe.get(f"{path}?since=yesterday")) == {"?since"}


# --- How the desk works --------------------------------------------------------------------------


def test_the_opinion_settings_is_set_up(opinion_settings):
    path = f"/clubs/{opinion_settings.club.id}/second-opinion-settings"
    before = opinion_settings.mo.get(path)
    assert before.json() == {
        "version": 0,
        "club": str(opinion_settings.club.id),
        "most_taken": 3,
        "currency": "",
    }
    assert opinion_settings.abe.change("PATCH", path, {"most_taken": 1}).status_code == 403
    assert opinion_settings.sef.patch(path, {"most_taken": 1}).status_code == 428
    changed = opinion_settings.sef.change("PATCH", path, {"most_taken": 5, "currency": "EUR"})
    assert changed.status_code == 200, changed.content
    assert opinion_settings.mo.get(path).json()["most_taken"] == 5
    late = opinion_settings.sef.patch(path, {"most_taken": 1}, If_Match=before["ETag"])
    assert late.status_code == 412
    assert pointers(opinion_settings.sef.change("PATCH", path, {"most_taken": 0})) == {
        "/most_taken"
    }
    assert pointers(opinion_settings.sef.change("PATCH", path, {"currency": "XYZ"})) == {
        "/currency"
    }
    assert opinion_settings.cast.sten.get(path).status_code == 404
