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


def test_it_works(asking):
    value_known(asking.scene.heron, "500.00")
    asking.another_group("Plover", asking.abe)
    assignment = asking.taken(wanted_by="2099-05-01")
    found = {one.candidate_id: one for one in lookable_on(asking.abe.person, DAY)}
    assert names(found.values()) == {"Heron", "Plover's boat"}
    heron = found.pop(asking.scene.heron.pk)
    assert f"/assignments/{heron.assignment.pk}" == assignment
    assert (heron.yard, heron.place) == (asking.yard, (54.123, 10.234))
    assert (heron.value.visit, heron.value.currency) == (500, "EUR")
    assert heron.wanted_by == DAY
    (own,) = found.values()
    assert (own.assignment, own.value, own.place) == (None, None, None)


def test_not_what_is_wanted_before(asking):
    asking.taken(wanted_by="2099-05-01")
    assert lookable_on(asking.abe.person, DAY + timedelta(days=1)) == []


@pytest.mark.parametrize("person", ["abe", "amy", "sef"])
def test_not_before_it_was_taken(asking, person):
    asking.asked()
    assert lookable_on(getattr(asking, person).person, DAY) == []
    assert not boats_open_to(getattr(asking, person).person).exists()


def test_not_after_it_ended(asking):
    assignment = asking.taken()
    assert boats_open_to(asking.abe.person).get() == asking.scene.heron
    asking.abe.post(f"{assignment}/hand-backs", {"reason": "No time"})
    assert lookable_on(asking.abe.person, DAY) == []
    assert not boats_open_to(asking.abe.person).exists()


def test_not_what_is_settled(asking):
    Membership.objects.create(
        group=asking.cast.group,
        person=asking.mo.person,
        role="observer",
        buys=False,
    )
    Candidate.objects.filter(pk=asking.scene.dunlin.pk).update(
        stage="struck_off", stage_reason="Too far"
    )
    assert names(lookable_on(asking.mo.person, DAY)) == {"Heron"}


def test_an_accepted_boat_on_a_yard_day_is_among_them(asking):
    theirs = asking.another_group("Plover", asking.cast.wim)
    Candidate.objects.filter(pk=theirs.pk).update(at_yard=asking.yard)
    visit = asking.scene.visit(starts_at=timezone.now() + timedelta(days=9), state="planned")
    visit.people.set([asking.cast.hal.person])
    day = asking.cast.hal.put(f"/viewings/{visit.pk}/yard-day", {}).json()["id"]
    body = {"candidate": str(theirs.pk), "question": "How is her deck?"}
    request = asking.cast.wim.post(f"/yard-days/{day}/requests", body).json()["id"]
    assert asking.cast.hal.post(f"/second-opinion-queue/{request}/assignments").status_code == 201
    found = lookable_on(asking.cast.hal.person, visit.starts_at.date())
    assert names(found) == {"Heron", "Dunlin", "Plover's boat"}


def test_constant_queries(asking, django_assert_num_queries):
    asking.taken()
    with django_assert_num_queries(3):
        assert len(lookable_on(asking.abe.person, DAY)) == 1
    for n in range(3):
        asking.another_group(f"Group {n}", asking.abe)
    with django_assert_num_queries(3):
        assert len(lookable_on(asking.abe.person, DAY)) == 4
    assert ClubMembership.objects.filter(person=asking.abe.person).count() == 1
