"""An adviser takes a request on, looks at that boat, answers or hands back."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from apps.desk.models import LookRequest, Step, Take
from apps.events.models import Event
from apps.groups.models import ClubMembership, Membership
from apps.viewings.facts import list_findings
from apps.viewings.models import Submission, Viewing
from tests.conftest import pointers
from tests.desk.conftest import QUESTION, SEEN
from tests.viewings.conftest import look


def test_it_works(desk):
    request = desk.asked(checkpoints=["joint"])
    made = desk.take(desk.abe, request)
    assert made.status_code == 201, made.content
    asked = made.json()["asked"]
    assert (asked["id"], asked["question"]) == (request, QUESTION)
    assert (asked["name"], asked["asked_by"]["name"]) == ("Heron", "Ben")
    at = f"/takes/{made.json()['id']}"
    boat = desk.abe.get(f"{at}/candidate").json()
    assert (boat["name"], boat["keel"], boat["loa_m"]) == ("Heron", "bolted_fin", 9.6)
    assert boat["at_yard"]["name"] == "North Quay"
    visit = desk.abe.put(
        f"{at}/visit",
        {"starts_at": "2025-04-05T09:30:00Z", "conditions": {"where": "ashore", "covered": True}},
    )
    assert visit.status_code == 201, visit.content
    checklist = desk.abe.get(f"{at}/checklist").json()
    assert checklist["conditions"]["covered"] is True
    assert checklist["to_ask"] == [], "what the seller is asked, the group asks itself"
    short = desk.abe.get(f"{at}/checklist?minutes=2").json()
    assert (short["minutes"], bool(short["later"])) == (2, True)
    sent = desk.submit(at)
    assert sent.status_code == 201, sent.content
    answered = desk.abe.post(f"{at}/answers", {"answer": "It is dry. Have it looked at."})
    assert answered.status_code == 201, answered.content
    assert answered.json()["asked"] is None
    assert answered.json()["ending"] == "answered"
    told = desk.cast.ben.get(f"/look-requests/{request}").json()
    assert (told["state"], told["answer"]) == ("answered", "It is dry. Have it looked at.")
    assert told["answered_by"]["name"] == "Abe"
    assert told["submissions"] == [sent.json()["id"]]
    assert desk.steps(request) == [
        ("asked", "Ben"),
        ("taken", "Abe"),
        ("visit_planned", "Abe"),
        ("submitted", "Abe"),
        ("answered", "Abe"),
    ]
    kinds = list(Event.objects.filter(thing="look_request").values_list("kind", flat=True))
    assert kinds[0] == "look_request.asked"
    assert kinds[-1] == "look_request.answered"


def test_what_the_adviser_finds_counts_like_a_members(desk):
    before = desk.scene.revision()
    desk.submit(desk.visited(desk.taken()))
    (found,) = list_findings(desk.scene.list.pk)
    assert (found.author_id, found.checkpoint, found.level) == (desk.abe.person.pk, "joint", 2)
    assert desk.scene.revision() == before + 1
    read = desk.cast.ivy.get(f"/candidates/{desk.scene.heron.id}/submissions").json()["results"]
    assert [row["author"]["name"] for row in read] == ["Abe"]
    assert Viewing.objects.get(people=desk.abe.person).state == "made"


@pytest.mark.parametrize(
    ("changed", "at"),
    [
        ({"call": "strike"}, "/call"),
        ({"capacity": "professional", "profession": "surveyor"}, "/capacity"),
        ({"findings": [look("nothing", 1)]}, "/findings/0/checkpoint"),
        ({"supersedes": "01900000-0000-7000-8000-000000000000"}, "/supersedes"),
    ],
)
def test_what_an_outsider_may_not_say(desk, changed, at):
    """A favour of somebody from outside clears no doubt and gives no opinion."""
    assert pointers(desk.submit(desk.visited(desk.taken()), **changed)) == {at}
    assert not Submission.objects.exists()


def test_findings_need_a_visit(desk):
    assert desk.submit(desk.taken()).json()["code"] == "no_visit"


def test_drafts_are_replaced_discarded_and_submitted(desk):
    take = desk.visited(desk.taken())
    draft = desk.submit(take, state="draft").json()
    path = f"{take}/submissions/{draft['id']}"
    changed = desk.abe.change("PUT", path, {"state": "draft", "note": "Later", "findings": []})
    assert changed.status_code == 200, changed.content
    assert desk.abe.put(path, {"findings": []}).status_code == 428
    assert desk.abe.put(path, {"findings": []}, If_Match='"other"').status_code == 412
    assert desk.amy.get(path).status_code == 404
    assert desk.cast.ben.get(path).status_code == 404
    assert desk.abe.change("DELETE", path).status_code == 204
    second = desk.submit(take, state="draft").json()["id"]
    sent = desk.abe.change(
        "PUT", f"{take}/submissions/{second}", {"state": "submitted", "findings": SEEN}
    )
    assert sent.json()["state"] == "submitted"
    assert desk.abe.change("DELETE", f"{take}/submissions/{second}").status_code == 409
    assert [row["id"] for row in desk.abe.get(f"{take}/submissions").json()["results"]] == [second]


def test_the_visit_is_moved(desk):
    take = desk.visited(desk.taken())
    body = {"starts_at": "2025-04-06T09:30:00Z", "conditions": {"light": "poor"}}
    assert desk.abe.put(f"{take}/visit", body).status_code == 428
    moved = desk.abe.change("PUT", f"{take}/visit", body)
    assert moved.status_code == 200, moved.content
    assert moved.json()["conditions"]["where"] == "ashore"
    assert Viewing.objects.filter(people=desk.abe.person).count() == 1
    assert pointers(desk.abe.change("PUT", f"{take}/visit", {"starts_at": "soon"})) == {
        "/starts_at"
    }


# --- Who takes it --------------------------------------------------------------------------------


def test_one_taker_at_a_time(desk):
    request = desk.asked()
    assert desk.take(desk.abe, request).status_code == 201
    late = desk.take(desk.amy, request)
    assert (late.status_code, late.json()["code"]) == (409, "taken")
    assert Take.objects.count() == 1
    with pytest.raises(IntegrityError), transaction.atomic():
        Take.objects.create(request_id=request, person=desk.amy.person)


def test_whoever_is_no_adviser_is_told_nothing(desk):
    request = desk.asked()
    for who in (desk.mo, desk.cast.sten, desk.cast.wim, desk.cast.ben, desk.cast.ola):
        assert desk.take(who, request).status_code == 404
        assert who.post(f"/asked-looks/{request}/declines").status_code == 404
    assert desk.cast.nobody.post(f"/asked-looks/{request}/takes").status_code == 401


def test_nobody_gives_their_own_group_a_second_opinion(desk):
    request = desk.asked()
    Membership.objects.create(
        group=desk.cast.group, person=desk.abe.person, role="observer", buys=False
    )
    assert desk.seen_by(desk.abe) == []
    assert desk.take(desk.abe, request).status_code == 404


def test_nobody_has_more_than_the_desk_lets_them(desk):
    assert (
        desk.sef.change("PATCH", f"/clubs/{desk.club.id}/desk", {"most_taken": 2}).status_code
        == 200
    )
    boats = [desk.scene.heron, desk.scene.dunlin, desk.another_group("Gannet", desk.cast.sten)]
    for boat in boats[:2]:
        desk.taken(boat=boat)
    third = desk.asked(desk.cast.sten, boats[2])
    full = desk.take(desk.abe, third)
    assert (full.status_code, full.json()["code"]) == (409, "has_enough")
    take = desk.abe.get("/takes").json()["results"][0]["id"]
    desk.abe.post(f"/takes/{take}/hand-backs", {"reason": "No time"})
    assert desk.take(desk.abe, third).status_code == 201


def test_a_repeat_takes_once(desk):
    path = f"/asked-looks/{desk.asked()}/takes"
    first = desk.abe.post(path, Idempotency_Key="k")
    again = desk.abe.post(path, Idempotency_Key="k")
    assert again["Idempotent-Replay"] == "true"
    assert again.json() == first.json()
    assert Take.objects.count() == 1


# --- Nobody is asked twice -----------------------------------------------------------------------


def test_whoever_declined_is_not_offered_it_again(desk):
    request = desk.asked()
    declined = desk.abe.post(f"/asked-looks/{request}/declines", {"reason": "Too far"})
    assert declined.status_code == 204, declined.content
    assert desk.seen_by(desk.abe) == []
    assert [row["id"] for row in desk.seen_by(desk.amy)] == [request]
    assert desk.take(desk.abe, request).json()["code"] == "had_before"
    # Nor another question about the same boat.
    desk.asked(question="And the mast?")
    assert desk.seen_by(desk.abe) == []
    assert desk.steps(request)[-1] == ("declined", "Abe")


def test_whoever_answered_is_not_offered_the_boat_again(desk):
    desk.abe.post(f"{desk.taken()}/answers", {"answer": "It is fine."})
    desk.asked(question="And the mast?")
    assert desk.seen_by(desk.abe) == []
    assert len(desk.seen_by(desk.amy)) == 1


def test_the_secretary_asks_one_adviser(desk):
    request = desk.asked()
    path = f"/asked-looks/{request}/offers"
    offered = desk.sef.post(path, {"adviser": str(desk.amy.person.pk)})
    assert offered.status_code == 201, offered.content
    assert offered.json()["offered_to"]["name"] == "Amy"
    assert desk.seen_by(desk.abe) == []
    assert desk.take(desk.abe, request).json()["code"] == "taken"
    assert desk.seen_by(desk.amy)[0]["offered_to_you"] is True
    desk.amy.post(f"/asked-looks/{request}/declines", {"reason": "Away"})
    assert desk.seen_by(desk.amy) == []
    assert len(desk.seen_by(desk.abe)) == 1
    again = desk.sef.post(path, {"adviser": str(desk.amy.person.pk)})
    assert pointers(again) == {"/adviser"}
    assert ("offered", "Sef") in desk.steps(request)


def test_who_asks_advisers(desk):
    path = f"/asked-looks/{desk.asked()}/offers"
    body = {"adviser": str(desk.amy.person.pk)}
    refused = desk.abe.post(path, body)
    assert (refused.status_code, refused.json()["roles"]) == (403, ["secretary"])
    for who in (desk.mo, desk.cast.sten, desk.cast.ola):
        assert who.post(path, body).status_code == 404
    for nobody in (desk.mo, desk.cast.sten, desk.cast.ben):
        assert pointers(desk.sef.post(path, {"adviser": str(nobody.person.pk)})) == {"/adviser"}
    assert pointers(desk.sef.post(path, {})) == {"/adviser"}


# --- Done with it --------------------------------------------------------------------------------


def test_an_answer_says_something(desk):
    take = desk.visited(desk.taken())
    assert pointers(desk.abe.post(f"{take}/answers", {})) == {"/answer"}
    desk.submit(take, state="draft")
    assert pointers(desk.abe.post(f"{take}/answers", {})) == {"/answer"}
    desk.submit(take)
    assert desk.abe.post(f"{take}/answers", {}).status_code == 201


def test_handed_back_it_waits_for_another(desk):
    take = desk.visited(desk.taken())
    request = desk.request_of(take)
    draft = desk.submit(take, state="draft").json()["id"]
    assert pointers(desk.abe.post(f"{take}/hand-backs", {})) == {"/reason"}
    back = desk.abe.post(f"{take}/hand-backs", {"reason": "The yard was shut"})
    assert back.status_code == 201, back.content
    assert (back.json()["ending"], back.json()["asked"]) == ("handed_back", None)
    assert not Submission.objects.filter(pk=draft).exists()
    assert desk.seen_by(desk.abe) == []
    assert [row["id"] for row in desk.seen_by(desk.amy)] == [request]
    assert desk.steps(request)[-1] == ("handed_back", "Abe")
    rows = desk.cast.ivy.get(f"/look-requests/{request}/steps").json()["results"]
    assert rows[-1]["words"] == "The yard was shut"
    # The visit is off: nobody waits in the yard.
    assert Viewing.objects.get(take__isnull=False).state == "called_off"


@pytest.mark.parametrize("done", ["answers", "hand-backs"])
def test_a_repeat_of_the_last_call_gets_its_answer(desk, done):
    take = desk.taken()
    body = {"answer": "Fine."} if done == "answers" else {"reason": "Away"}
    first = desk.abe.post(f"{take}/{done}", body, Idempotency_Key="k")
    again = desk.abe.post(f"{take}/{done}", body, Idempotency_Key="k")
    assert (first.status_code, again.status_code) == (201, 201), again.content
    assert again["Idempotent-Replay"] == "true"
    assert desk.abe.post(f"{take}/{done}", body).status_code == 404


# --- The group ends it ---------------------------------------------------------------------------


def test_the_group_ends_the_access(desk):
    take = desk.visited(desk.taken())
    request = desk.request_of(take)
    path = f"/look-requests/{request}/take"
    assert desk.cast.ivy.get(path).json()["person"]["name"] == "Abe"
    assert desk.cast.ivy.change("DELETE", path).status_code == 403
    assert desk.cast.ben.delete(path).status_code == 428
    assert desk.cast.ben.delete(path, If_Match='"other"').status_code == 412
    assert desk.cast.ben.change("DELETE", path).status_code == 204
    for at in ("candidate", "checklist", "visit", "submissions"):
        assert desk.abe.get(f"{take}/{at}").status_code == 404
    assert desk.submit(take).status_code == 404
    assert desk.abe.get(take).json()["ending"] == "ended"
    assert desk.cast.ivy.get(path).status_code == 404
    assert [row["id"] for row in desk.seen_by(desk.amy)] == [request]
    assert desk.steps(request)[-1] == ("access_ended", "Ben")


def test_what_was_submitted_stays_with_the_group(desk):
    take = desk.visited(desk.taken())
    sent = desk.submit(take).json()["id"]
    request = desk.request_of(take)
    assert desk.cast.ben.change("DELETE", f"/look-requests/{request}").status_code == 204
    assert desk.abe.get(f"{take}/submissions/{sent}").status_code == 404
    assert desk.abe.get(f"/submissions/{sent}").status_code == 404
    assert desk.cast.ben.get(f"/submissions/{sent}").status_code == 200
    assert desk.cast.ben.get(f"/look-requests/{request}").json()["submissions"] == [sent]


def lose_office(desk):
    membership = ClubMembership.objects.get(person=desk.abe.person)
    desk.sef.change("PUT", f"/club-members/{membership.pk}", {"role": "member"})


def leave_club(desk):
    membership = ClubMembership.objects.get(person=desk.abe.person)
    desk.abe.change("DELETE", f"/club-members/{membership.pk}")


def join_group(desk):
    token = desk.cast.ola.post(
        f"/groups/{desk.cast.group.id}/invitations", {"role": "helper"}
    ).json()["token"]
    desk.abe.post("/acceptances", {"token": token})


@pytest.mark.parametrize("lost", [lose_office, leave_club, join_group])
def test_access_goes_with_what_it_rests_on(desk, lost):
    take = desk.visited(desk.taken())
    request = desk.request_of(take)
    draft = desk.submit(take, state="draft").json()["id"]
    lost(desk)
    assert desk.abe.get(f"{take}/candidate").status_code == 404
    assert desk.abe.get(take).json()["ending"] == "lapsed"
    assert LookRequest.objects.get(pk=request).state == "waiting"
    assert desk.steps(request)[-1] == ("access_lapsed", None)
    assert not Submission.objects.filter(pk=draft).exists()


def test_access_is_gone_even_where_nobody_noted_what_went(desk):
    """A row changed past the services, by an operator say: every request asks anew."""
    take = desk.taken()
    ClubMembership.objects.filter(person=desk.abe.person).update(role="member")
    assert desk.abe.get(f"{take}/candidate").status_code == 404
    shown = desk.abe.get(take).json()
    assert (shown["asked"], shown["ending"]) == (None, "lapsed")


def test_the_log_only_grows(desk):
    desk.abe.post(f"/asked-looks/{desk.asked()}/declines")
    before = list(Step.objects.order_by("pk").values_list("pk", flat=True))
    desk.taken(desk.amy, LookRequest.objects.get().pk)
    assert list(Step.objects.order_by("pk").values_list("pk", flat=True))[:2] == before


# --- Workload ------------------------------------------------------------------------------------


def test_the_workload_is_seen_and_spread(desk):
    path = f"/clubs/{desk.club.id}/desk/workload"
    desk.abe.post(f"{desk.taken()}/answers", {"answer": "Fine."})
    desk.taken(boat=desk.scene.dunlin)
    rows = {row["person"]["name"]: row for row in desk.amy.get(path).json()["results"]}
    assert {name: (r["has"], r["took"], r["answered"]) for name, r in rows.items()} == {
        "Sef": (0, 0, 0),
        "Abe": (1, 2, 1),
        "Amy": (0, 0, 0),
    }
    last_year = (timezone.now() - timedelta(days=400)).date()
    earlier = desk.amy.get(f"{path}?until={last_year}&since={last_year}").json()["results"]
    assert {row["took"] for row in earlier} == {0}
    gannet = desk.another_group("Gannet", desk.cast.sten)
    desk.asked(desk.cast.sten, gannet)
    (row,) = desk.seen_by(desk.sef, "?whole=true")
    assert row["suggested"]["name"] in ("Sef", "Amy")
    desk.taken(desk.sef, boat=desk.scene.heron, question="What else?")
    (row,) = desk.seen_by(desk.sef, "?whole=true")
    assert row["suggested"]["name"] == "Amy"
    Membership.objects.create(
        group=gannet.list.group, person=desk.amy.person, role="observer", buys=False
    )
    (row,) = desk.seen_by(desk.sef, "?whole=true")
    assert row["suggested"]["name"] != "Amy"


def test_who_sees_the_workload(desk):
    path = f"/clubs/{desk.club.id}/desk/workload"
    assert desk.mo.get(path).status_code == 403
    assert desk.cast.sten.get(path).status_code == 404
    assert pointers(desk.abe.get(f"{path}?since=yesterday")) == {"?since"}


# --- How the desk works --------------------------------------------------------------------------


def test_the_desk_is_set_up(desk):
    path = f"/clubs/{desk.club.id}/desk"
    before = desk.mo.get(path)
    assert before.json() == {
        "version": 0,
        "club": str(desk.club.id),
        "most_taken": 3,
        "currency": "",
    }
    assert desk.abe.change("PATCH", path, {"most_taken": 1}).status_code == 403
    assert desk.sef.patch(path, {"most_taken": 1}).status_code == 428
    changed = desk.sef.change("PATCH", path, {"most_taken": 5, "currency": "EUR"})
    assert changed.status_code == 200, changed.content
    assert desk.mo.get(path).json()["most_taken"] == 5
    late = desk.sef.patch(path, {"most_taken": 1}, If_Match=before["ETag"])
    assert late.status_code == 412
    assert pointers(desk.sef.change("PATCH", path, {"most_taken": 0})) == {"/most_taken"}
    assert pointers(desk.sef.change("PATCH", path, {"currency": "XYZ"})) == {"/currency"}
    assert desk.cast.sten.get(path).status_code == 404
