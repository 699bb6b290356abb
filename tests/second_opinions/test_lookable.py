"""Which boats somebody may look at on a day: those of their groups, and those they took on."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from apps.boats.models import Candidate
from apps.groups.models import ClubMembership, Membership
from apps.second_opinions.lookable import boats_open_to, lookable_on
from tests.second_opinions.conftest import value_known

DAY = date(2099, 5, 1)


def names(found) -> set[str]:
    return {Candidate.objects.get(pk=one.candidate_id).name for one in found}


def test_it_works(opinion_settings):
    value_known(opinion_settings.scene.heron, "500.00")
    opinion_settings.another_group("Plover", opinion_settings.abe)
    assignment = opinion_settings.taken(wanted_by="2099-05-01")
    found = {one.candidate_id: one for one in lookable_on(opinion_settings.abe.person, DAY)}
    assert names(found.values()) == {"Heron", "Plover's boat"}
    heron = found.pop(opinion_settings.scene.heron.pk)
    assert f"/assignments/{heron.assignment.pk}" == assignment
    assert (heron.yard, heron.place) == (opinion_settings.yard, (54.123, 10.234))
    assert (heron.value.visit, heron.value.currency) == (500, "EUR")
    assert heron.wanted_by == DAY
    (own,) = found.values()
    assert (own.assignment, own.value, own.place) == (None, None, None)


def test_not_what_is_wanted_before(opinion_settings):
    opinion_settings.taken(wanted_by="2099-05-01")
    assert lookable_on(opinion_settings.abe.person, DAY + timedelta(days=1)) == []


@pytest.mark.parametrize("person", ["abe", "amy", "sef"])
def test_not_before_it_was_taken(opinion_settings, person):
    opinion_settings.asked()
    assert lookable_on(getattr(opinion_settings, person).person, DAY) == []
    assert not boats_open_to(getattr(opinion_settings, person).person).exists()


def test_not_after_it_ended(opinion_settings):
    assignment = opinion_settings.taken()
    assert boats_open_to(opinion_settings.abe.person).get() == opinion_settings.scene.heron
    opinion_settings.abe.post(f"{assignment}/hand-backs", {"reason": "No time"})
    assert lookable_on(opinion_settings.abe.person, DAY) == []
    assert not boats_open_to(opinion_settings.abe.person).exists()


def test_not_what_is_settled(opinion_settings):
    Membership.objects.create(
        group=opinion_settings.cast.group,
        person=opinion_settings.mo.person,
        role="observer",
        buys=False,
    )
    Candidate.objects.filter(pk=opinion_settings.scene.dunlin.pk).update(
        stage="struck_off", stage_reason="Too far"
    )
    assert names(lookable_on(opinion_settings.mo.person, DAY)) == {"Heron"}


def test_an_accepted_boat_on_a_yard_day_is_among_them(opinion_settings):
    theirs = opinion_settings.another_group("Plover", opinion_settings.cast.wim)
    Candidate.objects.filter(pk=theirs.pk).update(at_yard=opinion_settings.yard)
    visit = opinion_settings.scene.visit(
        starts_at=timezone.now() + timedelta(days=9), state="planned"
    )
    visit.people.set([opinion_settings.cast.hal.person])
    day = opinion_settings.cast.hal.put(f"/viewings/{visit.pk}/yard-day", {}).json()["id"]
    body = {"candidate": str(theirs.pk), "question": "How is her deck?"}
    request = opinion_settings.cast.wim.post(f"/yard-days/{day}/requests", body).json()["id"]
    assert (
        opinion_settings.cast.hal.post(f"/second-opinion-queue/{request}/assignments").status_code
        == 201
    )
    found = lookable_on(opinion_settings.cast.hal.person, visit.starts_at.date())
    assert names(found) == {"Heron", "Dunlin", "Plover's boat"}


def test_constant_queries(opinion_settings, django_assert_num_queries):
    opinion_settings.taken()
    with django_assert_num_queries(3):
        assert len(lookable_on(opinion_settings.abe.person, DAY)) == 1
    for n in range(3):
        opinion_settings.another_group(f"Group {n}", opinion_settings.abe)
    with django_assert_num_queries(3):
        assert len(lookable_on(opinion_settings.abe.person, DAY)) == 4
    assert ClubMembership.objects.filter(person=opinion_settings.abe.person).count() == 1
