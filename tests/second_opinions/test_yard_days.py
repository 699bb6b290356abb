"""Somebody goes to a yard, others of the club may know, and ask for a boat of theirs there."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from apps.boats.models import Candidate
from apps.events.models import Event
from apps.groups.models import Group, Membership
from apps.second_opinions.models import SecondOpinionRequest, YardDay
from apps.viewings.models import Viewing
from tests.boats.conftest import queries_of
from tests.conftest import pointers
from tests.viewings.conftest import look

SOON = timezone.now() + timedelta(days=9)


@pytest.fixture
def visit(opinion_settings) -> Viewing:
    """Ben and Hal of the Tern group go to see Heron at North Quay."""
    visit = opinion_settings.scene.visit(starts_at=SOON, state="planned")
    visit.people.set([opinion_settings.cast.ben.person, opinion_settings.cast.hal.person])
    return visit


@pytest.fixture
def theirs(opinion_settings) -> Candidate:
    """Wim's group has a boat in the same yard."""
    boat = opinion_settings.another_group("Plover", opinion_settings.cast.wim)
    Candidate.objects.filter(pk=boat.pk).update(at_yard=opinion_settings.yard)
    return Candidate.objects.get(pk=boat.pk)


def opened(opinion_settings, visit, **body) -> str:
    answer = opinion_settings.cast.ben.put(f"/viewings/{visit.pk}/yard-day", body)
    assert answer.status_code == 201, answer.content
    return answer.json()["id"]


def ask(opinion_settings, day, boat, who=None, **more):
    body = {"candidate": str(boat.pk), "question": "How is her deck?", **more}
    return (who or opinion_settings.cast.wim).post(f"/yard-days/{day}/requests", body)


def asked(opinion_settings, day, boat, **more) -> str:
    answer = ask(opinion_settings, day, boat, **more)
    assert answer.status_code == 201, answer.content
    return answer.json()["id"]


def days(opinion_settings, who):
    answer = who.get(f"/clubs/{opinion_settings.club.id}/yard-days")
    assert answer.status_code == 200, answer.content
    return answer.json()["results"]


def test_it_works(opinion_settings, visit, theirs):
    day = opened(opinion_settings, visit, room=2)
    (row,) = days(opinion_settings, opinion_settings.cast.wim)
    assert row == {
        "id": day,
        "on": SOON.astimezone(ZoneInfo("Europe/Berlin")).date().isoformat(),
        "yard": {"id": str(opinion_settings.yard.pk), "name": "North Quay"},
        "place": {"latitude": 54.12, "longitude": 10.23},
        "room": 2,
        "group": None,
        "people": [],
    }
    made = ask(opinion_settings, day, theirs, checkpoints=["joint"])
    assert made.status_code == 201, made.content
    assert made.json()["wanted_by"] == row["on"]
    request = made.json()["id"]
    (waiting,) = opinion_settings.cast.ben.get(f"/yard-days/{day}/second-opinion-queue").json()[
        "results"
    ]
    assert (waiting["id"], waiting["question"]) == (request, "How is her deck?")
    taken = opinion_settings.cast.ben.post(f"/second-opinion-queue/{request}/assignments")
    assert taken.status_code == 201, taken.content
    at = f"/assignments/{taken.json()['id']}"
    assert opinion_settings.cast.ben.get(f"{at}/candidate").json()["name"] == "Plover's boat"
    assert days(opinion_settings, opinion_settings.cast.wim)[0]["room"] == 1
    opinion_settings.visited(at, opinion_settings.cast.ben)
    body = {"state": "submitted", "findings": [look("joint", 1)]}
    assert opinion_settings.cast.ben.post(f"{at}/submissions", body).status_code == 201
    assert opinion_settings.cast.ben.post(f"{at}/answers", {}).status_code == 201
    told = opinion_settings.cast.wim.get(f"/second-opinion-requests/{request}").json()
    assert (told["state"], told["answered_by"]["name"]) == ("answered", "Ben")
    kinds = [kind for kind, _ in opinion_settings.steps(request, opinion_settings.cast.wim)]
    assert kinds == ["asked", "taken", "visit_planned", "submitted", "answered"]


def test_nothing_is_told_unless_it_was_agreed_to(opinion_settings, visit):
    assert days(opinion_settings, opinion_settings.cast.wim) == []
    assert opinion_settings.cast.ivy.get(f"/viewings/{visit.pk}/yard-day").status_code == 404


def test_who_goes_only_if_they_say_so(opinion_settings, visit):
    opened(opinion_settings, visit, says_who=True)
    (row,) = days(opinion_settings, opinion_settings.cast.wim)
    assert row["group"] == "Tern"
    assert {person["name"] for person in row["people"]} == {"Ben", "Hal"}


def test_whom_it_is_told(opinion_settings, visit):
    day = opened(opinion_settings, visit)
    assert (
        days(opinion_settings, opinion_settings.cast.ben) == []
    )  # of one's own group one knows anyway
    path = f"/clubs/{opinion_settings.club.id}/yard-days"
    assert opinion_settings.cast.sten.get(path).status_code == 404
    assert opinion_settings.cast.nobody.get(path).status_code == 401
    for who in (opinion_settings.cast.sten, opinion_settings.cast.ben, opinion_settings.cast.ola):
        assert who.get(f"/yard-days/{day}").status_code == 404
    assert len(days(opinion_settings, opinion_settings.mo)) == 1
    assert opinion_settings.mo.get(f"{path}?since=2999-01-01").json()["results"] == []
    assert opinion_settings.mo.get(f"{path}?until=2001-01-01").json()["results"] == []


def test_only_what_is_to_come_is_told(opinion_settings, visit):
    opened(opinion_settings, visit)
    Viewing.objects.filter(pk=visit.pk).update(starts_at=timezone.now() - timedelta(hours=1))
    assert days(opinion_settings, opinion_settings.cast.wim) == []
    past = opinion_settings.cast.ben.put(
        f"/viewings/{opinion_settings.scene.viewing.pk}/yard-day", {}
    )
    assert (past.status_code, past.json()["code"]) == (409, "not_to_come")


def test_who_opens_changes_and_closes(opinion_settings, visit):
    path = f"/viewings/{visit.pk}/yard-day"
    assert opinion_settings.cast.ivy.put(path, {}).status_code == 403
    assert opinion_settings.cast.wim.put(path, {}).status_code == 404
    assert pointers(opinion_settings.cast.hal.put(path, {"room": 0})) == {"/room"}
    opened(opinion_settings, visit)
    assert opinion_settings.cast.hal.put(path, {"room": 2}).status_code == 428
    assert opinion_settings.cast.hal.put(path, {"room": 2}, If_Match='"other"').status_code == 412
    assert opinion_settings.cast.hal.change("PUT", path, {"room": 3}).json()["room"] == 3
    assert opinion_settings.cast.ivy.change("DELETE", path).status_code == 403
    assert opinion_settings.cast.ben.change("DELETE", path).status_code == 204
    assert days(opinion_settings, opinion_settings.cast.wim) == []
    assert opened(opinion_settings, visit)  # and again
    kinds = Event.objects.filter(thing="yard_day").values_list("kind", flat=True)
    assert [kind.partition(".")[2] for kind in kinds] == ["opened", "changed", "closed", "opened"]


def test_a_boat_that_is_nowhere_opens_nothing(opinion_settings):
    visit = opinion_settings.scene.visit(
        opinion_settings.scene.dunlin, starts_at=SOON, state="planned"
    )
    refused = opinion_settings.cast.ben.put(f"/viewings/{visit.pk}/yard-day", {})
    assert refused.json()["code"] == "nowhere"
    Group.objects.filter(pk=opinion_settings.cast.group.pk).update(club=None)
    assert (
        opinion_settings.cast.ben.put(f"/viewings/{visit.pk}/yard-day", {}).json()["code"]
        == "no_club"
    )


# --- By the group's setting ----------------------------------------------------------------------


def test_a_group_opens_all_its_visits(opinion_settings, visit):
    path = f"/groups/{opinion_settings.cast.group.id}/second-opinion-settings"
    assert opinion_settings.cast.ivy.get(path).json()["opens_yard_days"] is False
    assert (
        opinion_settings.cast.ben.change("PUT", path, {"opens_yard_days": True}).status_code == 403
    )
    assert opinion_settings.cast.wim.get(path).status_code == 404
    assert opinion_settings.cast.ola.put(path, {"opens_yard_days": True}).status_code == 428
    assert (
        opinion_settings.cast.ola.change("PUT", path, {"opens_yard_days": True}).status_code == 200
    )
    assert len(days(opinion_settings, opinion_settings.cast.wim)) == 1
    at = f"/candidates/{opinion_settings.scene.heron.id}/viewings"
    opinion_settings.cast.ben.post(at, {"starts_at": (SOON + timedelta(days=1)).isoformat()})
    assert len(days(opinion_settings, opinion_settings.cast.wim)) == 2
    assert (
        opinion_settings.cast.ola.change("PUT", path, {"opens_yard_days": False}).status_code == 200
    )
    assert days(opinion_settings, opinion_settings.cast.wim) == []
    assert pointers(opinion_settings.cast.ola.change("PUT", path, {})) == {"/opens_yard_days"}


def test_a_visit_by_an_adviser_is_not_told_of(opinion_settings):
    opinion_settings.cast.ola.change(
        "PUT",
        f"/groups/{opinion_settings.cast.group.id}/second-opinion-settings",
        {"opens_yard_days": True},
    )
    body = {"starts_at": SOON.isoformat()}
    assert opinion_settings.abe.put(f"{opinion_settings.taken()}/visit", body).status_code == 201
    assert days(opinion_settings, opinion_settings.cast.wim) == []


# --- Asking --------------------------------------------------------------------------------------


def test_only_a_boat_that_lies_there(opinion_settings, visit, theirs):
    day = opened(opinion_settings, visit)
    Candidate.objects.filter(pk=theirs.pk).update(at_yard=None, latitude=54.2, longitude=10.234)
    assert pointers(ask(opinion_settings, day, theirs)) == {"/candidate"}
    Candidate.objects.filter(pk=theirs.pk).update(latitude=54.124, longitude=10.234)
    assert ask(opinion_settings, day, theirs).status_code == 201
    Candidate.objects.filter(pk=theirs.pk).update(latitude=None, longitude=None)
    assert pointers(ask(opinion_settings, day, theirs, question="Else?")) == {"/candidate"}


def test_only_a_boat_of_ones_own_groups_in_the_club(opinion_settings, visit, theirs):
    day = opened(opinion_settings, visit)
    assert pointers(ask(opinion_settings, day, opinion_settings.scene.heron)) == {"/candidate"}
    assert ask(opinion_settings, day, theirs, who=opinion_settings.mo).status_code == 422
    assert ask(opinion_settings, day, theirs, who=opinion_settings.cast.sten).status_code == 404
    Group.objects.filter(pk=theirs.list.group_id).update(club=None)
    assert pointers(ask(opinion_settings, day, theirs)) == {"/candidate"}
    assert not SecondOpinionRequest.objects.exists()


def test_whoever_only_observes_does_not_ask(opinion_settings, visit, theirs):
    day = opened(opinion_settings, visit)
    Membership.objects.create(
        group=theirs.list.group, person=opinion_settings.mo.person, role="observer", buys=False
    )
    assert ask(opinion_settings, day, theirs, who=opinion_settings.mo).status_code == 403


def test_a_repeat_asks_once(opinion_settings, visit, theirs):
    day = opened(opinion_settings, visit)
    body = {"candidate": str(theirs.pk), "question": "How is her deck?"}
    path = f"/yard-days/{day}/requests"
    first = opinion_settings.cast.wim.post(path, body, Idempotency_Key="k")
    assert opinion_settings.cast.wim.post(path, body, Idempotency_Key="k").json() == first.json()
    assert ask(opinion_settings, day, theirs).json()["code"] == "open_already"


# --- Accepting and declining ---------------------------------------------------------------------


def test_only_who_goes_is_asked(opinion_settings, visit, theirs):
    day = opened(opinion_settings, visit)
    request = asked(opinion_settings, day, theirs)
    assert opinion_settings.seen_by(opinion_settings.abe) == []
    for who in (
        opinion_settings.cast.ola,
        opinion_settings.cast.bea,
        opinion_settings.cast.wim,
        opinion_settings.abe,
        opinion_settings.mo,
    ):
        assert who.get(f"/yard-days/{day}/second-opinion-queue").status_code == 404
        assert who.post(f"/second-opinion-queue/{request}/assignments").status_code == 404
    assert (
        opinion_settings.cast.hal.post(f"/second-opinion-queue/{request}/assignments").status_code
        == 201
    )


def test_whoever_declines_stays_unknown(opinion_settings, visit, theirs):
    request = asked(opinion_settings, opened(opinion_settings, visit), theirs)
    declined = opinion_settings.cast.ben.post(
        f"/second-opinion-queue/{request}/declines", {"reason": "No time"}
    )
    assert declined.status_code == 204
    told = opinion_settings.cast.wim.get(f"/second-opinion-requests/{request}").json()
    assert told["state"] == "declined"
    assert opinion_settings.steps(request, opinion_settings.cast.wim)[-1] == ("declined", None)
    event = Event.objects.filter(kind="second_opinion_request.declined").get()
    assert event.by_id is None
    assert str(opinion_settings.cast.ben.person.pk) not in str(
        opinion_settings.cast.wim.get("/changes").content
    )


def test_there_is_only_so_much_room(opinion_settings, visit, theirs):
    day = opened(opinion_settings, visit)
    first, second = (
        asked(opinion_settings, day, theirs),
        asked(opinion_settings, day, theirs, question="And the mast?"),
    )
    assert (
        opinion_settings.cast.ben.post(f"/second-opinion-queue/{first}/assignments").status_code
        == 201
    )
    full = opinion_settings.cast.hal.post(f"/second-opinion-queue/{second}/assignments")
    assert (full.status_code, full.json()["code"]) == (409, "no_room")


def test_called_off_it_is_over(opinion_settings, visit, theirs):
    day = opened(opinion_settings, visit, room=3)
    taken, waiting = (
        asked(opinion_settings, day, theirs),
        asked(opinion_settings, day, theirs, question="And the mast?"),
    )
    at = f"/assignments/{opinion_settings.cast.ben.post(f'/second-opinion-queue/{taken}/assignments').json()['id']}"
    assert opinion_settings.cast.ben.get(f"{at}/candidate").status_code == 200
    off = opinion_settings.cast.hal.change(
        "PATCH", f"/viewings/{visit.pk}", {"state": "called_off"}
    )
    assert off.status_code == 200, off.content
    assert opinion_settings.cast.ben.get(f"{at}/candidate").status_code == 404
    for request in (taken, waiting):
        assert (
            opinion_settings.cast.wim.get(f"/second-opinion-requests/{request}").json()["state"]
            == "declined"
        )
    assert days(opinion_settings, opinion_settings.cast.wim) == []


def test_whoever_leaves_the_group_does_not_go_for_it(opinion_settings, visit, theirs):
    request = asked(opinion_settings, opened(opinion_settings, visit), theirs)
    at = f"/assignments/{opinion_settings.cast.ben.post(f'/second-opinion-queue/{request}/assignments').json()['id']}"
    opinion_settings.cast.ben.change(
        "DELETE", f"/members/{opinion_settings.cast.membership(opinion_settings.cast.ben).pk}"
    )
    assert opinion_settings.cast.ben.get(f"{at}/candidate").status_code == 404
    assert (
        opinion_settings.cast.wim.get(f"/second-opinion-requests/{request}").json()["state"]
        == "declined"
    )


@pytest.mark.parametrize("why", ["demoted", "not on the visit", "nobody named"])
def test_whoever_does_not_go_any_more_has_nothing_to_look_at(opinion_settings, visit, theirs, why):
    """Their access is gone and noted, so that the request does not seem to be in good hands."""
    request = asked(opinion_settings, opened(opinion_settings, visit), theirs)
    at = f"/assignments/{opinion_settings.cast.hal.post(f'/second-opinion-queue/{request}/assignments').json()['id']}"
    if why == "demoted":
        member = f"/members/{opinion_settings.cast.membership(opinion_settings.cast.hal).pk}"
        changed = opinion_settings.cast.ola.change(
            "PUT", member, {"role": "observer", "buys": False}
        )
    else:
        people = [] if why == "nobody named" else [str(opinion_settings.cast.ben.person.pk)]
        changed = opinion_settings.cast.ben.change(
            "PATCH", f"/viewings/{visit.pk}", {"people": people}
        )
    assert changed.status_code == 200, changed.content
    assert opinion_settings.cast.hal.get(f"{at}/candidate").status_code == 404
    assert opinion_settings.cast.hal.get(at).json()["ending"] == "lapsed"
    assert (
        opinion_settings.cast.wim.get(f"/second-opinion-requests/{request}").json()["state"]
        == "declined"
    )
    assert opinion_settings.steps(request, opinion_settings.cast.wim)[-1] == ("access_lapsed", None)


def test_whoever_still_goes_keeps_what_they_took_on(opinion_settings, visit, theirs):
    request = asked(opinion_settings, opened(opinion_settings, visit), theirs)
    at = f"/assignments/{opinion_settings.cast.hal.post(f'/second-opinion-queue/{request}/assignments').json()['id']}"
    people = [str(who.person.pk) for who in (opinion_settings.cast.hal, opinion_settings.cast.bea)]
    opinion_settings.cast.ben.change("PATCH", f"/viewings/{visit.pk}", {"people": people})
    assert opinion_settings.cast.hal.get(f"{at}/candidate").status_code == 200
    assert (
        opinion_settings.cast.wim.get(f"/second-opinion-requests/{request}").json()["state"]
        == "taken"
    )


def test_a_day_on_which_nobody_goes_any_more_is_told_to_nobody(opinion_settings, visit, theirs):
    visit.people.set([opinion_settings.cast.hal.person])
    request = asked(opinion_settings, opened(opinion_settings, visit, says_who=True), theirs)
    member = f"/members/{opinion_settings.cast.membership(opinion_settings.cast.hal).pk}"
    assert opinion_settings.cast.ola.change("DELETE", member).status_code == 204
    assert days(opinion_settings, opinion_settings.cast.wim) == []
    assert (
        opinion_settings.cast.wim.get(f"/second-opinion-requests/{request}").json()["state"]
        == "declined"
    )


def test_closed_what_waits_is_declined_and_what_was_taken_goes_on(opinion_settings, visit, theirs):
    day = opened(opinion_settings, visit, room=2)
    taken, waiting = (
        asked(opinion_settings, day, theirs),
        asked(opinion_settings, day, theirs, question="And the mast?"),
    )
    at = f"/assignments/{opinion_settings.cast.ben.post(f'/second-opinion-queue/{taken}/assignments').json()['id']}"
    opinion_settings.cast.ben.change("DELETE", f"/viewings/{visit.pk}/yard-day")
    assert (
        opinion_settings.cast.wim.get(f"/second-opinion-requests/{waiting}").json()["state"]
        == "declined"
    )
    assert opinion_settings.cast.ben.get(f"{at}/candidate").status_code == 200


def test_constant_queries(opinion_settings, visit, theirs):
    day = opened(opinion_settings, visit, room=20, says_who=True)
    listed = f"/clubs/{opinion_settings.club.id}/yard-days"
    at_day = f"/yard-days/{day}/second-opinion-queue"

    def queries():
        return [
            queries_of(lambda: opinion_settings.cast.wim.get(listed)),
            queries_of(lambda: opinion_settings.cast.ben.get(at_day)),
        ]

    asked(opinion_settings, day, theirs)
    few = queries()
    for n in range(5):
        asked(opinion_settings, day, theirs, question=f"Question {n}")
        more = opinion_settings.scene.visit(starts_at=SOON + timedelta(days=n), state="planned")
        more.people.set([opinion_settings.cast.hal.person])
        opened(opinion_settings, more, says_who=True)
    assert queries() == few
    assert YardDay.objects.count() == 6
