"""The boats that somebody may look at: their groups' and assigned ones."""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.boats.models import Candidate
from apps.second_opinions.lookable import boats_open_to


def names(person) -> set[str]:
    return {boat.name for boat in boats_open_to(person)}


def test_it_works(asking):
    asking.another_group("Plover", asking.abe)
    asking.taken(wanted_by="2099-05-01")
    assert names(asking.abe.person) == {"Heron", "Plover's boat"}


@pytest.mark.parametrize("person", ["abe", "amy", "sef"])
def test_not_before_it_was_taken(asking, person):
    asking.asked()
    assert not boats_open_to(getattr(asking, person).person).exists()


def test_not_after_it_ended(asking):
    assignment = asking.taken()
    assert boats_open_to(asking.abe.person).get() == asking.scene.heron
    asking.abe.post(f"{assignment}/hand-backs", {"reason": "No time"})
    assert not boats_open_to(asking.abe.person).exists()


def test_an_accepted_boat_on_a_yard_day_is_among_them(asking):
    theirs = asking.another_group("Plover", asking.cast.wim)
    Candidate.objects.filter(pk=theirs.pk).update(at_yard=asking.yard)
    visit = asking.scene.visit(starts_at=timezone.now() + timedelta(days=9), state="planned")
    visit.people.set([asking.cast.hal.person])
    day = asking.cast.hal.put(f"/viewings/{visit.pk}/yard-day", {}).json()["id"]
    body = {"candidate": str(theirs.pk), "question": "How is her deck?"}
    request = asking.cast.wim.post(f"/yard-days/{day}/requests", body).json()["id"]
    assert asking.cast.hal.post(f"/second-opinion-queue/{request}/assignments").status_code == 201
    assert names(asking.cast.hal.person) == {"Heron", "Dunlin", "Plover's boat"}


def test_constant_queries(asking, django_assert_num_queries):
    asking.taken()
    for n in range(3):
        with django_assert_num_queries(1):
            assert len(boats_open_to(asking.abe.person)) == 1 + n
        asking.another_group(f"Group {n}", asking.abe)
