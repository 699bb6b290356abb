"""A first look uses the value of looks only for readers who may see it."""

import pytest

from apps.appraisal.models import ListAppraisal


def codes(who, boat) -> list[str]:
    found = who.get(f"/candidates/{boat.pk}/checklist?minutes=15").json()
    return [check["code"] for place in found["places"] for check in place["possible"]]


@pytest.fixture
def valued(spring):
    """Only the winches and the furler of the first boat affect the choice."""
    stored = ListAppraisal.objects.get(pk=spring.yard.list.pk)
    value = {"amount": "900.00", "currency": "USD"}
    row = {
        "candidate_id": str(spring.petrel.pk),
        "title": "A check",
        "area": "deck-fittings",
        "look": "Look.",
        "cautions": [],
        "person_id": None,
        "looked_before": False,
        "value": value,
        "at_most": value,
    }
    stored.next_looks["checks"] = [{**row, "checkpoint": code} for code in ("winches", "furler")]
    stored.save()
    return spring


def test_who_sees_valuations_gets_what_is_worth_most(valued, cast):
    assert {"winches", "furler", "smell-of-gas"} <= set(codes(cast.ben, valued.petrel))


def test_who_sees_none_gets_it_by_priority(valued, cast):
    for who in (cast.ivy, cast.hal):
        taken = codes(who, valued.petrel)
        assert "keel-joint-line" in taken
        assert not {"winches", "furler"} & set(taken)


def test_nobody_is_told_by_another_boats_valuations(valued, cast):
    assert "winches" not in codes(cast.ben, valued.fulmar)
