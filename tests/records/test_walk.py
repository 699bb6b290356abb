"""Every event about a boat in the walk's world says which boat, and is entered."""

import pytest

from apps.events.models import Event
from apps.records.entering import about_of
from apps.records.facts import FIELDS
from apps.records.models import RecordEntry
from apps.records.wording import LEFT_OUT

pytestmark = [pytest.mark.django_db, pytest.mark.long]

# Things that belong to a group or a club and to none of its boats.
NOT_OF_A_BOAT = {
    *("group", "membership", "admission_request", "program", "yard", "trip", "ledger", "entry"),
    *("catalogue_change", "group_pool", "group_outcomes", "webhook", "export"),
    *("list_appraisal", "clause"),
}


def test_every_event_about_a_boat_says_which(worlds):
    """The walk's world has things of nearly all kinds. An event about a boat names her list."""
    events = list(Event.objects.all())
    things = {event.thing for event in events}
    assert things | {"second_opinion_request"} >= {
        *FIELDS,
        "candidate",
        "list",
        "submission",
        "entry",
    }
    lost = {event.kind for event in events if about_of(event) is None} - set(LEFT_OUT)
    assert {kind for kind in lost if _thing(events, kind) not in NOT_OF_A_BOAT} == set()
    kinds = {event.kind for event in events if about_of(event) and event.only_for is None}
    assert kinds - set(RecordEntry.objects.values_list("kind", flat=True)) <= set(LEFT_OUT)


def _thing(events: list[Event], kind: str) -> str:
    return next(event.thing for event in events if event.kind == kind)
