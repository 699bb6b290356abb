"""Somebody goes to a yard, others of the club may know, and ask for a boat of theirs there."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from apps.boats.models import Candidate
from apps.desk.models import LookRequest, YardDay
from apps.events.models import Event
from apps.groups.models import Group, Membership
from apps.viewings.models import Viewing
from tests.boats.conftest import queries_of
from tests.conftest import pointers
from tests.viewings.conftest import look

SOON = timezone.now() + timedelta(days=9)


@pytest.fixture
def visit(desk) -> Viewing:
    """Ben and Hal of the Tern group go to see Heron at North Quay."""
    visit = desk.scene.visit(starts_at=SOON, state="planned")
    visit.people.set([desk.cast.ben.person, desk.cast.hal.person])
    return visit


@pytest.fixture
def theirs(desk) -> Candidate:
    """Wim's group has a boat in the same yard."""
    boat = desk.another_group("Plover", desk.cast.wim)
    Candidate.objects.filter(pk=boat.pk).update(at_yard=desk.yard)
    return Candidate.objects.get(pk=boat.pk)


def opened(desk, visit, **body) -> str:
    answer = desk.cast.ben.put(f"/viewings/{visit.pk}/yard-day", body)
    assert answer.status_code == 201, answer.content
    return answer.json()["id"]


def ask(desk, day, boat, who=None, **more):
    body = {"candidate": str(boat.pk), "question": "How is her deck?", **more}
    return (who or desk.cast.wim).post(f"/yard-days/{day}/requests", body)


def asked(desk, day, boat, **more) -> str:
    answer = ask(desk, day, boat, **more)
    assert answer.status_code == 201, answer.content
    return answer.json()["id"]


def days(desk, who):
    answer = who.get(f"/clubs/{desk.club.id}/yard-days")
    assert answer.status_code == 200, answer.content
    return answer.json()["results"]


def test_it_works(desk, visit, theirs):
    day = opened(desk, visit, room=2)
    (row,) = days(desk, desk.cast.wim)
    assert row == {
        "id": day,
        "on": SOON.astimezone(ZoneInfo("Europe/Berlin")).date().isoformat(),
        "yard": {"id": str(desk.yard.pk), "name": "North Quay"},
        "place": {"latitude": 54.12, "longitude": 10.23},
        "room": 2,
        "group": None,
        "people": [],
    }
    made = ask(desk, day, theirs, checkpoints=["joint"])
    assert made.status_code == 201, made.content
    assert made.json()["wanted_by"] == row["on"]
    request = made.json()["id"]
    (waiting,) = desk.cast.ben.get(f"/yard-days/{day}/asked-looks").json()["results"]
    assert (waiting["id"], waiting["question"]) == (request, "How is her deck?")
    taken = desk.cast.ben.post(f"/asked-looks/{request}/takes")
    assert taken.status_code == 201, taken.content
    at = f"/takes/{taken.json()['id']}"
    assert desk.cast.ben.get(f"{at}/candidate").json()["name"] == "Plover's boat"
    assert days(desk, desk.cast.wim)[0]["room"] == 1
    desk.visited(at, desk.cast.ben)
    body = {"state": "submitted", "findings": [look("joint", 1)]}
    assert desk.cast.ben.post(f"{at}/submissions", body).status_code == 201
    assert desk.cast.ben.post(f"{at}/answers", {}).status_code == 201
    told = desk.cast.wim.get(f"/look-requests/{request}").json()
    assert (told["state"], told["answered_by"]["name"]) == ("answered", "Ben")
    kinds = [kind for kind, _ in desk.steps(request, desk.cast.wim)]
    assert kinds == ["asked", "taken", "visit_planned", "submitted", "answered"]


def test_nothing_is_told_unless_it_was_agreed_to(desk, visit):
    assert days(desk, desk.cast.wim) == []
    assert desk.cast.ivy.get(f"/viewings/{visit.pk}/yard-day").status_code == 404


def test_who_goes_only_if_they_say_so(desk, visit):
    opened(desk, visit, says_who=True)
    (row,) = days(desk, desk.cast.wim)
    assert row["group"] == "Tern"
    assert {person["name"] for person in row["people"]} == {"Ben", "Hal"}


def test_whom_it_is_told(desk, visit):
    day = opened(desk, visit)
    assert days(desk, desk.cast.ben) == []  # of one's own group one knows anyway
    path = f"/clubs/{desk.club.id}/yard-days"
    assert desk.cast.sten.get(path).status_code == 404
    assert desk.cast.nobody.get(path).status_code == 401
    for who in (desk.cast.sten, desk.cast.ben, desk.cast.ola):
        assert who.get(f"/yard-days/{day}").status_code == 404
    assert len(days(desk, desk.mo)) == 1
    assert desk.mo.get(f"{path}?since=2999-01-01").json()["results"] == []
    assert desk.mo.get(f"{path}?until=2001-01-01").json()["results"] == []


def test_only_what_is_to_come_is_told(desk, visit):
    opened(desk, visit)
    Viewing.objects.filter(pk=visit.pk).update(starts_at=timezone.now() - timedelta(hours=1))
    assert days(desk, desk.cast.wim) == []
    past = desk.cast.ben.put(f"/viewings/{desk.scene.viewing.pk}/yard-day", {})
    assert (past.status_code, past.json()["code"]) == (409, "not_to_come")


def test_who_opens_changes_and_closes(desk, visit):
    path = f"/viewings/{visit.pk}/yard-day"
    assert desk.cast.ivy.put(path, {}).status_code == 403
    assert desk.cast.wim.put(path, {}).status_code == 404
    assert pointers(desk.cast.hal.put(path, {"room": 0})) == {"/room"}
    opened(desk, visit)
    assert desk.cast.hal.put(path, {"room": 2}).status_code == 428
    assert desk.cast.hal.put(path, {"room": 2}, If_Match='"other"').status_code == 412
    assert desk.cast.hal.change("PUT", path, {"room": 3}).json()["room"] == 3
    assert desk.cast.ivy.change("DELETE", path).status_code == 403
    assert desk.cast.ben.change("DELETE", path).status_code == 204
    assert days(desk, desk.cast.wim) == []
    assert opened(desk, visit)  # and again
    kinds = Event.objects.filter(thing="yard_day").values_list("kind", flat=True)
    assert [kind.partition(".")[2] for kind in kinds] == ["opened", "changed", "closed", "opened"]


def test_a_boat_that_is_nowhere_opens_nothing(desk):
    visit = desk.scene.visit(desk.scene.dunlin, starts_at=SOON, state="planned")
    refused = desk.cast.ben.put(f"/viewings/{visit.pk}/yard-day", {})
    assert refused.json()["code"] == "nowhere"
    Group.objects.filter(pk=desk.cast.group.pk).update(club=None)
    assert desk.cast.ben.put(f"/viewings/{visit.pk}/yard-day", {}).json()["code"] == "no_club"


# --- By the group's setting ----------------------------------------------------------------------


def test_a_group_opens_all_its_visits(desk, visit):
    path = f"/groups/{desk.cast.group.id}/desk"
    assert desk.cast.ivy.get(path).json()["opens_yard_days"] is False
    assert desk.cast.ben.change("PUT", path, {"opens_yard_days": True}).status_code == 403
    assert desk.cast.wim.get(path).status_code == 404
    assert desk.cast.ola.put(path, {"opens_yard_days": True}).status_code == 428
    assert desk.cast.ola.change("PUT", path, {"opens_yard_days": True}).status_code == 200
    assert len(days(desk, desk.cast.wim)) == 1
    at = f"/candidates/{desk.scene.heron.id}/viewings"
    desk.cast.ben.post(at, {"starts_at": (SOON + timedelta(days=1)).isoformat()})
    assert len(days(desk, desk.cast.wim)) == 2
    assert desk.cast.ola.change("PUT", path, {"opens_yard_days": False}).status_code == 200
    assert days(desk, desk.cast.wim) == []
    assert pointers(desk.cast.ola.change("PUT", path, {})) == {"/opens_yard_days"}


def test_a_visit_by_an_adviser_is_not_told_of(desk):
    desk.cast.ola.change("PUT", f"/groups/{desk.cast.group.id}/desk", {"opens_yard_days": True})
    body = {"starts_at": SOON.isoformat()}
    assert desk.abe.put(f"{desk.taken()}/visit", body).status_code == 201
    assert days(desk, desk.cast.wim) == []


# --- Asking --------------------------------------------------------------------------------------


def test_only_a_boat_that_lies_there(desk, visit, theirs):
    day = opened(desk, visit)
    Candidate.objects.filter(pk=theirs.pk).update(at_yard=None, latitude=54.2, longitude=10.234)
    assert pointers(ask(desk, day, theirs)) == {"/candidate"}
    Candidate.objects.filter(pk=theirs.pk).update(latitude=54.124, longitude=10.234)
    assert ask(desk, day, theirs).status_code == 201
    Candidate.objects.filter(pk=theirs.pk).update(latitude=None, longitude=None)
    assert pointers(ask(desk, day, theirs, question="Else?")) == {"/candidate"}


def test_only_a_boat_of_ones_own_groups_in_the_club(desk, visit, theirs):
    day = opened(desk, visit)
    assert pointers(ask(desk, day, desk.scene.heron)) == {"/candidate"}
    assert ask(desk, day, theirs, who=desk.mo).status_code == 422
    assert ask(desk, day, theirs, who=desk.cast.sten).status_code == 404
    Group.objects.filter(pk=theirs.list.group_id).update(club=None)
    assert pointers(ask(desk, day, theirs)) == {"/candidate"}
    assert not LookRequest.objects.exists()


def test_whoever_only_observes_does_not_ask(desk, visit, theirs):
    day = opened(desk, visit)
    Membership.objects.create(
        group=theirs.list.group, person=desk.mo.person, role="observer", buys=False
    )
    assert ask(desk, day, theirs, who=desk.mo).status_code == 403


def test_a_repeat_asks_once(desk, visit, theirs):
    day = opened(desk, visit)
    body = {"candidate": str(theirs.pk), "question": "How is her deck?"}
    path = f"/yard-days/{day}/requests"
    first = desk.cast.wim.post(path, body, Idempotency_Key="k")
    assert desk.cast.wim.post(path, body, Idempotency_Key="k").json() == first.json()
    assert ask(desk, day, theirs).json()["code"] == "open_already"


# --- Accepting and declining ---------------------------------------------------------------------


def test_only_who_goes_is_asked(desk, visit, theirs):
    day = opened(desk, visit)
    request = asked(desk, day, theirs)
    assert desk.seen_by(desk.abe) == []
    for who in (desk.cast.ola, desk.cast.bea, desk.cast.wim, desk.abe, desk.mo):
        assert who.get(f"/yard-days/{day}/asked-looks").status_code == 404
        assert who.post(f"/asked-looks/{request}/takes").status_code == 404
    assert desk.cast.hal.post(f"/asked-looks/{request}/takes").status_code == 201


def test_whoever_declines_stays_unknown(desk, visit, theirs):
    request = asked(desk, opened(desk, visit), theirs)
    declined = desk.cast.ben.post(f"/asked-looks/{request}/declines", {"reason": "No time"})
    assert declined.status_code == 204
    told = desk.cast.wim.get(f"/look-requests/{request}").json()
    assert told["state"] == "declined"
    assert desk.steps(request, desk.cast.wim)[-1] == ("declined", None)
    event = Event.objects.filter(kind="look_request.declined").get()
    assert event.by_id is None
    assert str(desk.cast.ben.person.pk) not in str(desk.cast.wim.get("/changes").content)


def test_there_is_only_so_much_room(desk, visit, theirs):
    day = opened(desk, visit)
    first, second = asked(desk, day, theirs), asked(desk, day, theirs, question="And the mast?")
    assert desk.cast.ben.post(f"/asked-looks/{first}/takes").status_code == 201
    full = desk.cast.hal.post(f"/asked-looks/{second}/takes")
    assert (full.status_code, full.json()["code"]) == (409, "no_room")


def test_called_off_it_is_over(desk, visit, theirs):
    day = opened(desk, visit, room=3)
    taken, waiting = asked(desk, day, theirs), asked(desk, day, theirs, question="And the mast?")
    at = f"/takes/{desk.cast.ben.post(f'/asked-looks/{taken}/takes').json()['id']}"
    assert desk.cast.ben.get(f"{at}/candidate").status_code == 200
    off = desk.cast.hal.change("PATCH", f"/viewings/{visit.pk}", {"state": "called_off"})
    assert off.status_code == 200, off.content
    assert desk.cast.ben.get(f"{at}/candidate").status_code == 404
    for request in (taken, waiting):
        assert desk.cast.wim.get(f"/look-requests/{request}").json()["state"] == "declined"
    assert days(desk, desk.cast.wim) == []


def test_whoever_leaves_the_group_does_not_go_for_it(desk, visit, theirs):
    request = asked(desk, opened(desk, visit), theirs)
    at = f"/takes/{desk.cast.ben.post(f'/asked-looks/{request}/takes').json()['id']}"
    desk.cast.ben.change("DELETE", f"/members/{desk.cast.membership(desk.cast.ben).pk}")
    assert desk.cast.ben.get(f"{at}/candidate").status_code == 404
    assert desk.cast.wim.get(f"/look-requests/{request}").json()["state"] == "declined"


@pytest.mark.parametrize("why", ["demoted", "not on the visit", "nobody named"])
def test_whoever_does_not_go_any_more_has_nothing_to_look_at(desk, visit, theirs, why):
    """Their access is gone and noted, so that the request does not seem to be in good hands."""
    request = asked(desk, opened(desk, visit), theirs)
    at = f"/takes/{desk.cast.hal.post(f'/asked-looks/{request}/takes').json()['id']}"
    if why == "demoted":
        member = f"/members/{desk.cast.membership(desk.cast.hal).pk}"
        changed = desk.cast.ola.change("PUT", member, {"role": "observer", "buys": False})
    else:
        people = [] if why == "nobody named" else [str(desk.cast.ben.person.pk)]
        changed = desk.cast.ben.change("PATCH", f"/viewings/{visit.pk}", {"people": people})
    assert changed.status_code == 200, changed.content
    assert desk.cast.hal.get(f"{at}/candidate").status_code == 404
    assert desk.cast.hal.get(at).json()["ending"] == "lapsed"
    assert desk.cast.wim.get(f"/look-requests/{request}").json()["state"] == "declined"
    assert desk.steps(request, desk.cast.wim)[-1] == ("access_lapsed", None)


def test_whoever_still_goes_keeps_what_they_took_on(desk, visit, theirs):
    request = asked(desk, opened(desk, visit), theirs)
    at = f"/takes/{desk.cast.hal.post(f'/asked-looks/{request}/takes').json()['id']}"
    people = [str(who.person.pk) for who in (desk.cast.hal, desk.cast.bea)]
    desk.cast.ben.change("PATCH", f"/viewings/{visit.pk}", {"people": people})
    assert desk.cast.hal.get(f"{at}/candidate").status_code == 200
    assert desk.cast.wim.get(f"/look-requests/{request}").json()["state"] == "taken"


def test_a_day_on_which_nobody_goes_any_more_is_told_to_nobody(desk, visit, theirs):
    visit.people.set([desk.cast.hal.person])
    request = asked(desk, opened(desk, visit, says_who=True), theirs)
    member = f"/members/{desk.cast.membership(desk.cast.hal).pk}"
    assert desk.cast.ola.change("DELETE", member).status_code == 204
    assert days(desk, desk.cast.wim) == []
    assert desk.cast.wim.get(f"/look-requests/{request}").json()["state"] == "declined"


def test_closed_what_waits_is_declined_and_what_was_taken_goes_on(desk, visit, theirs):
    day = opened(desk, visit, room=2)
    taken, waiting = asked(desk, day, theirs), asked(desk, day, theirs, question="And the mast?")
    at = f"/takes/{desk.cast.ben.post(f'/asked-looks/{taken}/takes').json()['id']}"
    desk.cast.ben.change("DELETE", f"/viewings/{visit.pk}/yard-day")
    assert desk.cast.wim.get(f"/look-requests/{waiting}").json()["state"] == "declined"
    assert desk.cast.ben.get(f"{at}/candidate").status_code == 200


def test_constant_queries(desk, visit, theirs):
    day = opened(desk, visit, room=20, says_who=True)
    listed = f"/clubs/{desk.club.id}/yard-days"
    at_day = f"/yard-days/{day}/asked-looks"

    def queries():
        return [
            queries_of(lambda: desk.cast.wim.get(listed)),
            queries_of(lambda: desk.cast.ben.get(at_day)),
        ]

    asked(desk, day, theirs)
    few = queries()
    for n in range(5):
        asked(desk, day, theirs, question=f"Question {n}")
        more = desk.scene.visit(starts_at=SOON + timedelta(days=n), state="planned")
        more.people.set([desk.cast.hal.person])
        opened(desk, more, says_who=True)
    assert queries() == few
    assert YardDay.objects.count() == 6
