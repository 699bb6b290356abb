"""The first page."""

from datetime import timedelta

from django.utils import timezone

from apps.boats.list_models import CandidateList
from apps.viewings.models import Viewing
from tests.pages.browser import Browser
from tests.pages.test_every_page import queries_of


def test_signed_out_it_says_what_this_is_and_where_to_go(db):
    page = Browser().get("/").content.decode()
    assert "It is no survey" in page
    assert 'href="/sign-in"' in page
    assert 'href="/join"' in page
    assert 'href="/docs/"' in page


def test_it_shows_my_lists_and_what_waits(scene):
    page = Browser(scene.cast.hal).get("/").content.decode()
    assert f'href="/lists/{scene.list.pk}"' in page
    assert "Nothing at the moment" in page
    stranger = Browser(scene.cast.sten).get("/").content.decode()
    assert scene.list.name not in stranger
    assert "Ask somebody of your group" in stranger


def test_the_next_visit_is_mine_planned_and_to_come(scene):
    now = timezone.now()
    for days, who, state in (
        (9, scene.cast.ben, "planned"),
        (3, scene.cast.ben, "planned"),
        (2, scene.cast.ben, "called_off"),
        (1, scene.cast.hal, "planned"),
        (-1, scene.cast.ben, "planned"),
    ):
        visit = scene.visit(starts_at=now + timedelta(days=days), state=state)
        visit.people.add(who.person)
    mine = Viewing.objects.get(starts_at=now + timedelta(days=3))
    page = Browser(scene.cast.ben).get("/").content.decode()
    assert page.count("/visits/") == 1
    assert f'href="/visits/{mine.pk}"' in page


def test_many_lists_cost_as_much_as_one(scene):
    ola = Browser(scene.cast.ola)
    one = queries_of(ola, "/")
    for n in range(5):
        CandidateList.objects.create(
            group=scene.cast.group, name=f"List {n}", currency="EUR", budget=40_000
        )
    assert queries_of(ola, "/") == one
