"""Subscribers are called in the transaction that records the event."""

import uuid

import pytest
from django.db import transaction

from apps.events.models import Event
from apps.events.services import event_announce, event_record
from apps.events.subscriptions import subscribe, unsubscribe

KIND, INTERNAL_KIND = "list.changed", "list.inputs_changed"


@pytest.fixture
def subscribed():
    handlers = []

    def add(*kinds, handler):
        handlers.append(subscribe(*kinds)(handler))

    yield add
    for handler in handlers:
        unsubscribe(handler)


def record(cast, kind=KIND) -> Event:
    with transaction.atomic():
        return event_record(
            group_id=cast.group.pk, kind=kind, thing="list", thing_id=uuid.uuid4(), facts={"a": 1}
        )


def test_it_works(cast, subscribed):
    heard = []

    def listen(event):
        assert not Event.objects.exists(), "no number is taken yet"
        heard.append((event.kind, event.group, event.thing_id, event.facts))

    subscribed(KIND, "list.created", handler=listen)
    event = record(cast)
    record(cast, "list.opinions_closed")
    assert heard == [(KIND, cast.group.pk, event.thing_id, {"a": 1})]
    assert Event.objects.count() == 2


def test_what_follows_comes_before_what_it_follows_from(cast, subscribed):
    subscribed(KIND, handler=lambda event: record(cast, "trip.changed"))
    record(cast)
    assert list(Event.objects.values_list("number", "kind")) == [(1, "trip.changed"), (2, KIND)]


def test_a_handler_that_fails_undoes_the_change(cast, subscribed):
    def fail(event):
        raise LookupError

    subscribed(KIND, handler=fail)

    def change():
        cast.group.name = "Terns"
        cast.group.save()
        record(cast)

    with pytest.raises(LookupError), transaction.atomic():
        change()
    cast.group.refresh_from_db()
    assert (cast.group.name, Event.objects.exists()) == ("Tern", False)


def test_an_internal_event_is_heard_and_never_written(cast, subscribed):
    heard = []
    subscribed(INTERNAL_KIND, handler=lambda event: heard.append(event.thing_id))
    thing = uuid.uuid4()
    with transaction.atomic():
        event_announce(kind=INTERNAL_KIND, thing_id=thing)
    assert (heard, Event.objects.exists()) == ([thing], False)


def test_no_kind_is_both(cast):
    with pytest.raises(ValueError, match="never written"):
        record(cast, INTERNAL_KIND)
    with pytest.raises(ValueError, match="is written"), transaction.atomic():
        event_announce(kind=KIND, thing_id=uuid.uuid4())


@pytest.mark.django_db(transaction=True)
def test_it_belongs_to_a_transaction(subscribed):
    with pytest.raises(RuntimeError, match="transaction"):
        event_announce(kind=INTERNAL_KIND, thing_id=uuid.uuid4())
