"""A club's page, and a second opinion as those who ask and those who answer see it."""

import pytest

from apps.groups.models import ClubMembership
from apps.second_opinions.models import SecondOpinionRequest
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
