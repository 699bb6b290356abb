"""Which boats somebody may look at on a day: those of their groups, and those they took on."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from apps.boats.models import Candidate
from apps.desk.lookable import boats_open_to, lookable_on
from apps.groups.models import ClubMembership, Membership
from tests.desk.conftest import worth_known

DAY = date(2099, 5, 1)


def names(found) -> set[str]:
    return {Candidate.objects.get(pk=one.candidate_id).name for one in found}


def test_it_works(desk):
    worth_known(desk.scene.heron, "500.00")
    desk.another_group("Plover", desk.abe)
    take = desk.taken(wanted_by="2099-05-01")
    found = {one.candidate_id: one for one in lookable_on(desk.abe.person, DAY)}
    assert names(found.values()) == {"Heron", "Plover's boat"}
    heron = found.pop(desk.scene.heron.pk)
    assert f"/takes/{heron.take.pk}" == take
    assert (heron.yard, heron.place) == (desk.yard, (54.123, 10.234))
    assert (heron.worth.visit, heron.worth.currency) == (500, "EUR")
    assert heron.wanted_by == DAY
    (own,) = found.values()
    assert (own.take, own.worth, own.place) == (None, None, None)


def test_not_what_is_wanted_before(desk):
    desk.taken(wanted_by="2099-05-01")
    assert lookable_on(desk.abe.person, DAY + timedelta(days=1)) == []


@pytest.mark.parametrize("person", ["abe", "amy", "sef"])
def test_not_before_it_was_taken(desk, person):
    desk.asked()
    assert lookable_on(getattr(desk, person).person, DAY) == []
    assert not boats_open_to(getattr(desk, person).person).exists()


def test_not_after_it_ended(desk):
    take = desk.taken()
    assert boats_open_to(desk.abe.person).get() == desk.scene.heron
    desk.abe.post(f"{take}/hand-backs", {"reason": "No time"})
    assert lookable_on(desk.abe.person, DAY) == []
    assert not boats_open_to(desk.abe.person).exists()


def test_not_what_is_settled(desk):
    Membership.objects.create(
        group=desk.cast.group, person=desk.mo.person, role="observer", buys=False
    )
    Candidate.objects.filter(pk=desk.scene.dunlin.pk).update(
        stage="struck_off", stage_reason="Too far"
    )
    assert names(lookable_on(desk.mo.person, DAY)) == {"Heron"}


def test_an_accepted_boat_on_a_yard_day_is_among_them(desk):
    theirs = desk.another_group("Plover", desk.cast.wim)
    Candidate.objects.filter(pk=theirs.pk).update(at_yard=desk.yard)
    visit = desk.scene.visit(starts_at=timezone.now() + timedelta(days=9), state="planned")
    visit.people.set([desk.cast.hal.person])
    day = desk.cast.hal.put(f"/viewings/{visit.pk}/yard-day", {}).json()["id"]
    body = {"candidate": str(theirs.pk), "question": "How is her deck?"}
    request = desk.cast.wim.post(f"/yard-days/{day}/requests", body).json()["id"]
    assert desk.cast.hal.post(f"/asked-looks/{request}/takes").status_code == 201
    found = lookable_on(desk.cast.hal.person, visit.starts_at.date())
    assert names(found) == {"Heron", "Dunlin", "Plover's boat"}


def test_constant_queries(desk, django_assert_num_queries):
    desk.taken()
    with django_assert_num_queries(3):
        assert len(lookable_on(desk.abe.person, DAY)) == 1
    for n in range(3):
        desk.another_group(f"Group {n}", desk.abe)
    with django_assert_num_queries(3):
        assert len(lookable_on(desk.abe.person, DAY)) == 4
    assert ClubMembership.objects.filter(person=desk.abe.person).count() == 1
