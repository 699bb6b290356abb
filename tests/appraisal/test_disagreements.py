"""People who disagree strongly on one boat: one event, when it is found."""

import pytest

from apps.appraisal.compute.disagreements import apart, disagreements
from apps.events.models import Event


def said(*reports):
    return [{"kind": kind, "person_id": person, "level": level} for kind, person, level in reports]


@pytest.mark.parametrize(
    ("reports", "levels"),
    [
        ([], 0),
        ([("member", "ben", 4)], 0),
        ([("member", "ben", 0), ("member", "ben", 4)], 0),  # changed his mind, or saw another side
        ([("member", "ben", 1), ("member", "bea", 2)], 1),
        ([("member", "ben", 3), ("member", "bea", 1)], 2),
        ([("member", "ben", 0), ("member", "ben", 4), ("member", "bea", 2)], 2),
        ([("member", "ben", 2), ("member", "hal", 2), ("member", "bea", 0)], 2),
        ([("member", "ben", 0), ("professional", "bea", 4), ("document", None, 4)], 0),
    ],
)
def test_how_far_apart_people_are(reports, levels):
    assert apart(said(*reports)) == levels


def test_checkpoints_are_named():
    near = said(("member", "ben", 1), ("member", "bea", 2))
    far = said(("member", "ben", 0), ("member", "bea", 2))
    consensus = {
        "checkpoints": [{"checkpoint": "x", "reports": near}, {"checkpoint": "y", "reports": far}]
    }
    assert disagreements(consensus) == ["y"]
    assert disagreements({}) == []


def found() -> list:
    events = Event.objects.filter(kind="disagreement.found").order_by("number")
    return list(events.values_list("thing_id", "facts"))


def test_a_disagreement_is_told_when_it_is_found_and_not_again(yard, cast):
    boat, other = yard.boat("Whimbrel"), yard.boat("Curlew")
    yard.look(boat, cast.ben.person, {"deck-cracks": 0})
    yard.look(other, cast.ben.person, {"deck-cracks": 0})
    yard.recompute()
    assert found() == []

    yard.look(boat, cast.bea.person, {"deck-cracks": 3})
    yard.recompute()
    told = [(boat.pk, {"list": str(yard.list.pk), "checkpoints": ["deck-cracks"]})]
    assert found() == told
    event = Event.objects.get(kind="disagreement.found")
    assert (event.group, event.thing, event.by, event.only_for) == (
        cast.group.id,
        "candidate",
        None,
        None,
    )

    yard.look(boat, cast.hal.person, {"deck-cracks": 3})
    yard.recompute()
    assert found() == told
