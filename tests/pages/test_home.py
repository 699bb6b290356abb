"""The first page."""

from datetime import timedelta

import pytest
from django.utils import timezone
from uuid_utils.compat import uuid7

from apps.boats.list_models import CandidateList
from apps.boats.yards.models import Yard
from apps.notifications.models import Notification
from apps.pages.home import page_of
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


def test_a_visit_is_shown_on_the_clock_of_its_yard(scene):
    noon = timezone.now().replace(hour=12, minute=0) + timedelta(days=1)
    east = {"name": "East", "latitude": 35.3, "longitude": 139.5, "time_zone": "Asia/Tokyo"}
    yard = Yard.objects.create(group=scene.cast.group, **east)
    scene.heron.at_yard, scene.heron.yard = yard, yard.name
    scene.heron.save()
    scene.visit(starts_at=noon, state="planned").people.add(scene.cast.ben.person)
    page = Browser(scene.cast.ben).get("/").content.decode()
    assert "21:00, East" in page


def test_what_is_done_goes(scene):
    facts = {"by": [str(scene.cast.hal.person.pk)]}
    told = Notification.objects.create(
        person=scene.cast.ben.person,
        group=scene.cast.group,
        kind="changed",
        type="member_joined",
        thing="group",
        thing_id=scene.cast.group.pk,
        cause="one",
        facts=facts,
        number=1,
        added_at=timezone.now(),
    )
    ben = Browser(scene.cast.ben)
    page = ben.get("/").content.decode()
    assert "Changed since you last looked" in page
    assert "Hal joined" in page
    etag = told.etag
    done = ben.write("PATCH", f"/notifications/{told.pk}", {"done": True}, If_Match=etag)
    assert done.status_code == 200, done.content
    assert "Hal joined" not in ben.get("/").content.decode()


@pytest.mark.parametrize(
    ("kind", "thing", "place"),
    [
        ("trip_ahead", "trip", "/trips/"),
        ("visit_ahead", "viewing", "/visits/"),
        ("second_opinion_answered", "second_opinion_request", "/second-opinions/"),
    ],
)
def test_a_notification_leads_to_what_it_is_about(kind, thing, place):
    about = uuid7()
    assert page_of(Notification(type=kind, thing=thing, thing_id=about)) == f"{place}{about}"


def test_whoever_is_asked_to_take_a_look_on_goes_to_the_club():
    club = uuid7()
    asked = Notification(
        type="second_opinion_to_take",
        thing="second_opinion_request",
        thing_id=uuid7(),
        club_id=club,
    )
    assert page_of(asked) == f"/club/{club}"


def test_many_lists_cost_as_much_as_one(scene):
    ola = Browser(scene.cast.ola)
    one = queries_of(ola, "/")
    for n in range(5):
        CandidateList.objects.create(
            group=scene.cast.group, name=f"List {n}", currency="EUR", budget=40_000
        )
    assert queries_of(ola, "/") == one
