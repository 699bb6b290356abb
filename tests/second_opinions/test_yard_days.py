"""Yard days: others of the club see that somebody goes to a yard, and ask for a boat there."""

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
def visit(asking) -> Viewing:
    """Ben and Hal of the Tern group go to see Heron at North Quay."""
    visit = asking.scene.visit(starts_at=SOON, state="planned")
    visit.people.set([asking.cast.ben.person, asking.cast.hal.person])
    return visit


@pytest.fixture
def theirs(asking) -> Candidate:
    """Wim's group has a boat in the same yard."""
    boat = asking.another_group("Plover", asking.cast.wim)
    Candidate.objects.filter(pk=boat.pk).update(at_yard=asking.yard)
    return Candidate.objects.get(pk=boat.pk)


def opened(asking, visit, **body) -> str:
    answer = asking.cast.ben.put(f"/viewings/{visit.pk}/yard-day", body)
    assert answer.status_code == 201, answer.content
    return answer.json()["id"]


def ask(asking, day, boat, who=None, **more):
    body = {"candidate": str(boat.pk), "question": "How is her deck?", **more}
    return (who or asking.cast.wim).post(f"/yard-days/{day}/requests", body)


def asked(asking, day, boat, **more) -> str:
    answer = ask(asking, day, boat, **more)
    assert answer.status_code == 201, answer.content
    return answer.json()["id"]


def days(asking, who):
    answer = who.get(f"/clubs/{asking.club.id}/yard-days")
    assert answer.status_code == 200, answer.content
    return answer.json()["results"]


def test_it_works(asking, visit, theirs):
    day = opened(asking, visit, room=2)
    (row,) = days(asking, asking.cast.wim)
    assert row == {
        "id": day,
        "on": SOON.astimezone(ZoneInfo("Europe/Berlin")).date().isoformat(),
        "yard": {"id": str(asking.yard.pk), "name": "North Quay"},
        "place": {"latitude": 54.12, "longitude": 10.23},
        "where": "North Quay",
        "room": 2,
        "group": None,
        "people": [],
    }
    made = ask(asking, day, theirs, checkpoints=["joint"])
    assert made.status_code == 201, made.content
    assert made.json()["wanted_by"] == row["on"]
    request = made.json()["id"]
    (waiting,) = asking.cast.ben.get(f"/yard-days/{day}/second-opinion-queue").json()["results"]
    assert (waiting["id"], waiting["question"]) == (request, "How is her deck?")
    taken = asking.cast.ben.post(f"/second-opinion-queue/{request}/assignments")
    assert taken.status_code == 201, taken.content
    at = f"/assignments/{taken.json()['id']}"
    assert asking.cast.ben.get(f"{at}/candidate").json()["name"] == "Plover's boat"
    assert days(asking, asking.cast.wim)[0]["room"] == 1
    asking.visited(at, asking.cast.ben)
    body = {"state": "submitted", "findings": [look("joint", 1)]}
    assert asking.cast.ben.post(f"{at}/submissions", body).status_code == 201
    assert asking.cast.ben.post(f"{at}/answers", {}).status_code == 201
    told = asking.cast.wim.get(f"/second-opinion-requests/{request}").json()
    assert (told["state"], told["answered_by"]["name"]) == ("answered", "Ben")
    kinds = [kind for kind, _ in asking.steps(request, asking.cast.wim)]
    assert kinds == ["asked", "taken", "visit_planned", "submitted", "answered"]


def test_nothing_is_told_unless_it_was_agreed_to(asking, visit):
    assert days(asking, asking.cast.wim) == []
    assert asking.cast.ivy.get(f"/viewings/{visit.pk}/yard-day").status_code == 404


def test_who_goes_only_if_they_say_so(asking, visit):
    opened(asking, visit, says_who=True)
    (row,) = days(asking, asking.cast.wim)
    assert row["group"] == "Tern"
    assert {person["name"] for person in row["people"]} == {"Ben", "Hal"}


def test_whom_it_is_told(asking, visit):
    day = opened(asking, visit)
    assert days(asking, asking.cast.ben) == []  # of one's own group one knows anyway
    path = f"/clubs/{asking.club.id}/yard-days"
    assert asking.cast.sten.get(path).status_code == 404
    assert asking.cast.nobody.get(path).status_code == 401
    for who in (asking.cast.sten, asking.cast.ben, asking.cast.ola):
        assert who.get(f"/yard-days/{day}").status_code == 404
    assert len(days(asking, asking.mo)) == 1
    assert asking.mo.get(f"{path}?since=2999-01-01").json()["results"] == []
    assert asking.mo.get(f"{path}?until=2001-01-01").json()["results"] == []


def test_only_what_is_to_come_is_told(asking, visit):
    opened(asking, visit)
    Viewing.objects.filter(pk=visit.pk).update(starts_at=timezone.now() - timedelta(hours=1))
    assert days(asking, asking.cast.wim) == []
    past = asking.cast.ben.put(f"/viewings/{asking.scene.viewing.pk}/yard-day", {})
    assert (past.status_code, past.json()["code"]) == (409, "not_to_come")


def test_who_opens_changes_and_closes(asking, visit):
    path = f"/viewings/{visit.pk}/yard-day"
    assert asking.cast.ivy.put(path, {}).status_code == 403
    assert asking.cast.wim.put(path, {}).status_code == 404
    assert pointers(asking.cast.hal.put(path, {"room": 0})) == {"/room"}
    opened(asking, visit)
    assert asking.cast.hal.put(path, {"room": 2}).status_code == 428
    assert asking.cast.hal.put(path, {"room": 2}, If_Match='"other"').status_code == 412
    assert asking.cast.hal.change("PUT", path, {"room": 3}).json()["room"] == 3
    assert asking.cast.ivy.change("DELETE", path).status_code == 403
    assert asking.cast.ben.change("DELETE", path).status_code == 204
    assert days(asking, asking.cast.wim) == []
    assert opened(asking, visit)  # and again
    kinds = Event.objects.filter(thing="yard_day").values_list("kind", flat=True)
    assert [kind.partition(".")[2] for kind in kinds] == ["opened", "changed", "closed", "opened"]


def test_a_boat_that_is_nowhere_opens_nothing(asking):
    visit = asking.scene.visit(asking.scene.dunlin, starts_at=SOON, state="planned")
    refused = asking.cast.ben.put(f"/viewings/{visit.pk}/yard-day", {})
    assert refused.json()["code"] == "nowhere"
    Group.objects.filter(pk=asking.cast.group.pk).update(club=None)
    assert asking.cast.ben.put(f"/viewings/{visit.pk}/yard-day", {}).json()["code"] == "no_club"


# --- By the group's setting ----------------------------------------------------------------------


def test_a_group_opens_all_its_visits(asking, visit):
    path = f"/groups/{asking.cast.group.id}/second-opinion-settings"
    assert asking.cast.ivy.get(path).json()["opens_yard_days"] is False
    assert asking.cast.ben.change("PUT", path, {"opens_yard_days": True}).status_code == 403
    assert asking.cast.wim.get(path).status_code == 404
    assert asking.cast.ola.put(path, {"opens_yard_days": True}).status_code == 428
    assert asking.cast.ola.change("PUT", path, {"opens_yard_days": True}).status_code == 200
    assert len(days(asking, asking.cast.wim)) == 1
    at = f"/candidates/{asking.scene.heron.id}/viewings"
    asking.cast.ben.post(at, {"starts_at": (SOON + timedelta(days=1)).isoformat()})
    assert len(days(asking, asking.cast.wim)) == 2
    assert asking.cast.ola.change("PUT", path, {"opens_yard_days": False}).status_code == 200
    assert days(asking, asking.cast.wim) == []
    assert pointers(asking.cast.ola.change("PUT", path, {})) == {"/opens_yard_days"}


def test_a_visit_by_an_adviser_is_not_told_of(asking):
    asking.cast.ola.change(
        "PUT",
        f"/groups/{asking.cast.group.id}/second-opinion-settings",
        {"opens_yard_days": True},
    )
    body = {"starts_at": SOON.isoformat()}
    assert asking.abe.put(f"{asking.taken()}/visit", body).status_code == 201
    assert days(asking, asking.cast.wim) == []


# --- Asking --------------------------------------------------------------------------------------


def test_only_a_boat_that_lies_there(asking, visit, theirs):
    day = opened(asking, visit)
    Candidate.objects.filter(pk=theirs.pk).update(at_yard=None, latitude=54.2, longitude=10.234)
    assert pointers(ask(asking, day, theirs)) == {"/candidate"}
    Candidate.objects.filter(pk=theirs.pk).update(latitude=54.124, longitude=10.234)
    assert ask(asking, day, theirs).status_code == 201
    Candidate.objects.filter(pk=theirs.pk).update(latitude=None, longitude=None)
    assert pointers(ask(asking, day, theirs, question="Else?")) == {"/candidate"}


def test_only_a_boat_of_ones_own_groups_in_the_club(asking, visit, theirs):
    day = opened(asking, visit)
    assert pointers(ask(asking, day, asking.scene.heron)) == {"/candidate"}
    assert ask(asking, day, theirs, who=asking.mo).status_code == 422
    assert ask(asking, day, theirs, who=asking.cast.sten).status_code == 404
    Group.objects.filter(pk=theirs.list.group_id).update(club=None)
    assert pointers(ask(asking, day, theirs)) == {"/candidate"}
    assert not SecondOpinionRequest.objects.exists()


def test_whoever_only_observes_does_not_ask(asking, visit, theirs):
    day = opened(asking, visit)
    Membership.objects.create(
        group=theirs.list.group, person=asking.mo.person, role="observer", buys=False
    )
    assert ask(asking, day, theirs, who=asking.mo).status_code == 403


def test_a_repeat_asks_once(asking, visit, theirs):
    day = opened(asking, visit)
    body = {"candidate": str(theirs.pk), "question": "How is her deck?"}
    path = f"/yard-days/{day}/requests"
    first = asking.cast.wim.post(path, body, Idempotency_Key="k")
    assert asking.cast.wim.post(path, body, Idempotency_Key="k").json() == first.json()
    assert ask(asking, day, theirs).json()["code"] == "open_already"


# --- Accepting and declining ---------------------------------------------------------------------


def test_only_who_goes_is_asked(asking, visit, theirs):
    day = opened(asking, visit)
    request = asked(asking, day, theirs)
    assert asking.seen_by(asking.abe) == []
    for who in (
        asking.cast.ola,
        asking.cast.bea,
        asking.cast.wim,
        asking.abe,
        asking.mo,
    ):
        assert who.get(f"/yard-days/{day}/second-opinion-queue").status_code == 404
        assert who.post(f"/second-opinion-queue/{request}/assignments").status_code == 404
    assert asking.cast.hal.post(f"/second-opinion-queue/{request}/assignments").status_code == 201


def test_whoever_declines_stays_unknown(asking, visit, theirs):
    request = asked(asking, opened(asking, visit), theirs)
    declined = asking.cast.ben.post(
        f"/second-opinion-queue/{request}/declines", {"reason": "No time"}
    )
    assert declined.status_code == 204
    told = asking.cast.wim.get(f"/second-opinion-requests/{request}").json()
    assert told["state"] == "declined"
    assert asking.steps(request, asking.cast.wim)[-1] == ("declined", None)
    event = Event.objects.filter(kind="second_opinion_request.declined").get()
    assert event.by_id is None
    assert str(asking.cast.ben.person.pk) not in str(asking.cast.wim.get("/changes").content)


def test_there_is_only_so_much_room(asking, visit, theirs):
    day = opened(asking, visit)
    first, second = (
        asked(asking, day, theirs),
        asked(asking, day, theirs, question="And the mast?"),
    )
    assert asking.cast.ben.post(f"/second-opinion-queue/{first}/assignments").status_code == 201
    full = asking.cast.hal.post(f"/second-opinion-queue/{second}/assignments")
    assert (full.status_code, full.json()["code"]) == (409, "no_room")


def test_called_off_it_is_over(asking, visit, theirs):
    day = opened(asking, visit, room=3)
    taken, waiting = (
        asked(asking, day, theirs),
        asked(asking, day, theirs, question="And the mast?"),
    )
    made = asking.cast.ben.post(f"/second-opinion-queue/{taken}/assignments").json()
    at = f"/assignments/{made['id']}"
    assert asking.cast.ben.get(f"{at}/candidate").status_code == 200
    off = asking.cast.hal.change("PATCH", f"/viewings/{visit.pk}", {"state": "called_off"})
    assert off.status_code == 200, off.content
    assert asking.cast.ben.get(f"{at}/candidate").status_code == 404
    for request in (taken, waiting):
        assert (
            asking.cast.wim.get(f"/second-opinion-requests/{request}").json()["state"] == "declined"
        )
    assert days(asking, asking.cast.wim) == []


def test_whoever_leaves_the_group_does_not_go_for_it(asking, visit, theirs):
    request = asked(asking, opened(asking, visit), theirs)
    made = asking.cast.ben.post(f"/second-opinion-queue/{request}/assignments").json()
    at = f"/assignments/{made['id']}"
    asking.cast.ben.change("DELETE", f"/members/{asking.cast.membership(asking.cast.ben).pk}")
    assert asking.cast.ben.get(f"{at}/candidate").status_code == 404
    assert asking.cast.wim.get(f"/second-opinion-requests/{request}").json()["state"] == "declined"


@pytest.mark.parametrize("why", ["demoted", "not on the visit", "nobody named"])
def test_whoever_does_not_go_any_more_has_nothing_to_look_at(asking, visit, theirs, why):
    """Their access ends and this is recorded, so the request does not seem to be taken care of."""
    request = asked(asking, opened(asking, visit), theirs)
    made = asking.cast.hal.post(f"/second-opinion-queue/{request}/assignments").json()
    at = f"/assignments/{made['id']}"
    if why == "demoted":
        member = f"/members/{asking.cast.membership(asking.cast.hal).pk}"
        changed = asking.cast.ola.change("PUT", member, {"role": "observer", "buys": False})
    else:
        people = [] if why == "nobody named" else [str(asking.cast.ben.person.pk)]
        changed = asking.cast.ben.change("PATCH", f"/viewings/{visit.pk}", {"people": people})
    assert changed.status_code == 200, changed.content
    assert asking.cast.hal.get(f"{at}/candidate").status_code == 404
    assert asking.cast.hal.get(at).json()["ending"] == "lapsed"
    assert asking.cast.wim.get(f"/second-opinion-requests/{request}").json()["state"] == "declined"
    assert asking.steps(request, asking.cast.wim)[-1] == ("access_lapsed", None)


def test_whoever_still_goes_keeps_what_they_took_on(asking, visit, theirs):
    request = asked(asking, opened(asking, visit), theirs)
    made = asking.cast.hal.post(f"/second-opinion-queue/{request}/assignments").json()
    at = f"/assignments/{made['id']}"
    people = [str(who.person.pk) for who in (asking.cast.hal, asking.cast.bea)]
    asking.cast.ben.change("PATCH", f"/viewings/{visit.pk}", {"people": people})
    assert asking.cast.hal.get(f"{at}/candidate").status_code == 200
    assert asking.cast.wim.get(f"/second-opinion-requests/{request}").json()["state"] == "taken"


def test_a_day_on_which_nobody_goes_any_more_is_told_to_nobody(asking, visit, theirs):
    visit.people.set([asking.cast.hal.person])
    request = asked(asking, opened(asking, visit, says_who=True), theirs)
    member = f"/members/{asking.cast.membership(asking.cast.hal).pk}"
    assert asking.cast.ola.change("DELETE", member).status_code == 204
    assert days(asking, asking.cast.wim) == []
    assert asking.cast.wim.get(f"/second-opinion-requests/{request}").json()["state"] == "declined"


def test_closed_what_waits_is_declined_and_what_was_taken_goes_on(asking, visit, theirs):
    day = opened(asking, visit, room=2)
    taken, waiting = (
        asked(asking, day, theirs),
        asked(asking, day, theirs, question="And the mast?"),
    )
    made = asking.cast.ben.post(f"/second-opinion-queue/{taken}/assignments").json()
    at = f"/assignments/{made['id']}"
    asking.cast.ben.change("DELETE", f"/viewings/{visit.pk}/yard-day")
    assert asking.cast.wim.get(f"/second-opinion-requests/{waiting}").json()["state"] == "declined"
    assert asking.cast.ben.get(f"{at}/candidate").status_code == 200


def test_constant_queries(asking, visit, theirs):
    day = opened(asking, visit, room=20, says_who=True)
    listed = f"/clubs/{asking.club.id}/yard-days"
    at_day = f"/yard-days/{day}/second-opinion-queue"

    def queries():
        return [
            queries_of(lambda: asking.cast.wim.get(listed)),
            queries_of(lambda: asking.cast.ben.get(at_day)),
        ]

    asked(asking, day, theirs)
    few = queries()
    for n in range(5):
        asked(asking, day, theirs, question=f"Question {n}")
        more = asking.scene.visit(starts_at=SOON + timedelta(days=n), state="planned")
        more.people.set([asking.cast.hal.person])
        opened(asking, more, says_who=True)
    assert queries() == few
    assert YardDay.objects.count() == 6
