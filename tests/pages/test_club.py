"""A club's page, and a second opinion as those who ask and those who answer see it."""

import json
import re
from datetime import timedelta

import pytest
from django.utils import timezone

from apps.boats.models import Candidate
from apps.groups.models import ClubMembership
from apps.second_opinions.models import SecondOpinionRequest
from apps.viewings.models import Viewing
from tests.pages.browser import Browser
from tests.pages.conftest import EVIL
from tests.pages.test_every_page import queries_of
from tests.second_opinions.conftest import QUESTION, asking  # noqa: F401


@pytest.fixture
def scenes(asking):  # noqa: F811
    return asking


@pytest.fixture
def at(scenes) -> str:
    return f"/club/{scenes.club.pk}"


def page_of(who, at: str) -> str:
    answer = Browser(who).get(at)
    assert answer.status_code == 200
    return answer.content.decode()


def test_advisers_see_what_is_asked_and_not_of_which_boat(scenes, at):
    scenes.asked()
    page = page_of(scenes.abe, at)
    assert QUESTION in page
    assert "/assignments" in page
    for word in ("Heron", "Tern", "Ben"):
        assert word not in page
    assert QUESTION not in page_of(scenes.mo, at)


def test_the_group_sees_what_it_asked(scenes, at):
    request = scenes.asked()
    page = page_of(scenes.cast.ben, f"/second-opinions/{request}")
    assert QUESTION in page
    assert f'data-api="DELETE /second-opinion-requests/{request}"' in page
    observed = page_of(scenes.cast.ivy, f"/second-opinions/{request}")
    assert "data-api=" not in observed
    assert f'href="/second-opinions/{request}"' in page_of(
        scenes.cast.ben, f"/boats/{scenes.scene.heron.pk}"
    )


def test_whoever_takes_it_on_sees_the_boat_until_they_answer(scenes):
    request = scenes.asked()
    at = f"/second-opinions/{request}"
    for who in (scenes.abe, scenes.amy, scenes.mo):
        assert Browser(who).get(at).status_code == 404
    path = scenes.taken(request_id=request)
    page = page_of(scenes.abe, at)
    assert "Heron" in page
    assert "What the group found is not shown" in page
    assert Browser(scenes.amy).get(at).status_code == 404
    assert scenes.abe.post(f"{path}/answers", {"answer": f"Dry. {EVIL}"}).status_code in (200, 201)
    assert Browser(scenes.abe).get(at).status_code == 404
    answered = page_of(scenes.cast.ben, at)
    assert "Dry. &lt;b onclick" in answered
    assert EVIL not in answered
    assert "A screening by non-experts is not a survey." in answered


def test_whoever_is_not_of_the_club_sees_nothing_of_it(scenes, at):
    scenes.asked()
    assert Browser(scenes.cast.sten).get(at).status_code == 404
    assert Browser().get(at).status_code == 302


def test_an_empty_club_says_what_it_will_show(scenes, at):
    page = page_of(scenes.abe, at)
    assert "Nobody asks for a look at the moment" in page
    assert "too few groups share what surveys found" in page


def test_more_requests_cost_no_more_queries(scenes, at):
    scenes.asked()
    abe = Browser(scenes.abe)
    abe.get(at)
    few = queries_of(abe, at)
    for n in range(3):
        scenes.asked(question=f"And what about {n}?")
    assert SecondOpinionRequest.objects.count() == 4
    assert queries_of(abe, at) == few


def test_the_board_leads_to_the_club_those_who_belong_to_it(scenes, at):
    board = f"/lists/{scenes.scene.list.pk}"
    assert f'href="{at}"' not in page_of(scenes.cast.ivy, board)
    ClubMembership.objects.create(club=scenes.club, person=scenes.cast.ivy.person, role="member")
    assert f'href="{at}"' in page_of(scenes.cast.ivy, board)


def test_whoever_takes_it_on_plans_a_visit_and_looks_check_by_check(scenes):
    request = scenes.asked()
    at = f"/second-opinions/{request}"
    assignment = scenes.taken(request_id=request)
    page = page_of(scenes.abe, at)
    assert f'data-api="PUT {assignment}/visit"' in page
    assert "data-day=" not in page
    scenes.visited(assignment)
    page = page_of(scenes.abe, at)
    visit = re.search(r'data-day="([^"]+)"', page)[1]
    assert f'href="/visits/{visit}/look"' in page
    abe = Browser(scenes.abe)
    day = abe.get(f"/visits/{visit}/day").json()
    (taken,) = day["visits"]
    assert taken["assignment"] == assignment.rpartition("/")[2]
    assert taken["may"] == {"look": True, "ask": False, "vote": False}
    assert taken["pages"] == [at]
    assert not any(check["taps"] for part in taken["places"] for check in part["checks"])
    for word in ("Tern", str(scenes.scene.list.group_id), "Bea"):
        assert word not in json.dumps(taken)
    assert Browser(scenes.amy).get(f"/visits/{visit}/day").status_code == 404
    # The phone sends to the assignment, and the group sees whose visit it is.
    assert scenes.submit(assignment).status_code == 201
    assert "You have sent 1 look" in page_of(scenes.abe, at)
    scenes.abe.post(f"{assignment}/answers", {"answer": ""})
    assert abe.get(f"/visits/{visit}/day").status_code == 404
    assert f'href="/visits/{visit}"' in page_of(scenes.cast.ben, at)


def test_a_visit_that_was_taken_on_is_the_next_one_and_of_the_same_day(scenes):
    request = scenes.asked()
    assignment = scenes.taken(request_id=request)
    soon = timezone.now() + timedelta(hours=1)
    scenes.abe.put(f"{assignment}/visit", {"starts_at": soon.isoformat()})
    home = page_of(scenes.abe, "/")
    assert f'href="/second-opinions/{request}"' in home
    boat = scenes.another_group("Plover", scenes.abe)
    own = Viewing.objects.create(candidate=boat, starts_at=soon, added_by=scenes.abe.person)
    own.people.add(scenes.abe.person)
    day = Browser(scenes.abe).get(f"/visits/{own.pk}/day").json()
    assert [bool(one["assignment"]) for one in day["visits"]] == [False, True]


def test_days_say_the_yard_or_the_words_for_the_place_and_never_degrees(scenes, at):
    visit = scenes.scene.visit(starts_at=timezone.now() + timedelta(days=9), state="planned")
    visit.people.add(scenes.cast.ben.person)
    assert scenes.cast.ben.put(f"/viewings/{visit.pk}/yard-day", {"room": 2}).status_code == 201
    page = page_of(scenes.mo, at)
    assert "North Quay" in page
    assert "54.1" not in page
    heron = Candidate.objects.filter(pk=scenes.scene.heron.pk)
    heron.update(at_yard=None, latitude=54.123, longitude=10.234, yard="Behind the shed")
    page = page_of(scenes.mo, at)
    assert "Behind the shed" in page
    assert "54.1" not in page
    (said,) = scenes.mo.get(f"/clubs/{scenes.club.pk}/yard-days").json()["results"]
    assert said["where"] == "Behind the shed"
    heron.update(yard="")
    assert "a place that has no name yet" in page_of(scenes.mo, at)


def test_only_boats_that_lie_there_can_be_asked_about(scenes, at):
    visit = scenes.scene.visit(starts_at=timezone.now() + timedelta(days=9), state="planned")
    visit.people.add(scenes.cast.ben.person)
    day = scenes.cast.ben.put(f"/viewings/{visit.pk}/yard-day", {}).json()["id"]
    elsewhere = scenes.another_group("Plover", scenes.cast.wim)
    assert "no boat of yours lies there" in page_of(scenes.cast.wim, at)
    Candidate.objects.filter(pk=elsewhere.pk).update(at_yard=scenes.yard)
    page = page_of(scenes.cast.wim, at)
    assert f'data-api="POST /yard-days/{day}/requests"' in page
    assert f'value="{elsewhere.pk}"' in page


def test_a_visit_is_opened_and_shows_what_others_ask(scenes, at):
    visit = scenes.scene.visit(starts_at=timezone.now() + timedelta(days=9), state="planned")
    visit.people.add(scenes.cast.ben.person)
    page = page_of(scenes.cast.ben, f"/visits/{visit.pk}")
    assert f'data-api="PUT /viewings/{visit.pk}/yard-day"' in page
    day = scenes.cast.ben.put(f"/viewings/{visit.pk}/yard-day", {}).json()["id"]
    boat = scenes.another_group("Plover", scenes.cast.wim)
    Candidate.objects.filter(pk=boat.pk).update(at_yard=scenes.yard)
    body = {"candidate": str(boat.pk), "question": "How is her deck?"}
    assert scenes.cast.wim.post(f"/yard-days/{day}/requests", body).status_code == 201
    page = page_of(scenes.cast.ben, f"/visits/{visit.pk}")
    assert "How is her deck?" in page
    assert "Plover" not in page
    assert f'data-api="DELETE /viewings/{visit.pk}/yard-day"' in page
    assert "1 boat asked of you" in page_of(scenes.cast.ben, at)
    # Others of the group see the day, and not what is asked of those who go.
    assert "How is her deck?" not in page_of(scenes.cast.ola, f"/visits/{visit.pk}")
    watched = page_of(scenes.cast.ivy, f"/visits/{visit.pk}")
    assert "yard-day" not in watched


def test_more_days_cost_no_more_queries(scenes, at):
    def opened() -> None:
        visit = scenes.scene.visit(starts_at=timezone.now() + timedelta(days=9), state="planned")
        visit.people.add(scenes.cast.ben.person)
        scenes.cast.ben.put(f"/viewings/{visit.pk}/yard-day", {"says_who": True})

    opened()
    readers = [Browser(scenes.mo), Browser(scenes.cast.ben)]
    for one in readers:
        one.get(at)
    few = [queries_of(one, at) for one in readers]
    for _ in range(3):
        opened()
    assert [queries_of(one, at) for one in readers] == few


def test_the_secretary_asks_an_adviser(scenes, at):
    request = scenes.asked()
    offering = f'data-api="POST /second-opinion-queue/{request}/offers"'
    page = page_of(scenes.sef, at)
    assert offering in page
    assert "Heron" not in page
    for who in (scenes.abe, scenes.mo):
        assert offering not in page_of(who, at)
    body = {"adviser": str(scenes.amy.person.pk)}
    assert scenes.sef.post(f"/second-opinion-queue/{request}/offers", body).status_code == 201
    page = page_of(scenes.sef, at)
    assert "Amy is asked" in page
    assert offering not in page
    assert "the secretary asks you" in page_of(scenes.amy, at)
