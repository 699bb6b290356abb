"""Webhooks are delivered although PostgreSQL, Redis or real worker processes die."""

import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
from django.conf import settings
from django.utils import timezone

from apps.events.models import Delivery, Webhook
from server.demo.client import Client, over_http
from tests.events.receiving import Receiver, receiver
from tests.system.processes import Process, answers, free_port, running, until
from tests.system.test_served_jobs import (  # noqa: F401  (fixtures)
    Installation,
    _served,
    installation,
)

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.served]


@pytest.fixture(scope="module")
def own(installation) -> Installation:  # noqa: F811
    """The same installation, which allows webhooks to this machine."""
    environment = {
        **installation.environment,
        "SECRET_KEY": settings.SECRET_KEY,
        "WEBHOOK_OWN_NETWORKS": "127.0.0.0/8",
    }
    return replace(installation, environment=environment)


def sender(own: Installation) -> Process:
    return own._celery("worker", "-Q", "sending", "--concurrency=2", "--pool=prefork")


@pytest.fixture(scope="module")
def web(own) -> Iterator[str]:
    port = free_port()
    address = f"http://127.0.0.1:{port}"
    with running(own.web(port)):
        until(lambda: answers(address))
        yield address


@pytest.fixture
def ola(web, own, cast) -> Iterator[Client]:
    yield Client(over_http(web), cast.ola.secret or "")
    own.gate.become("open")


@pytest.fixture
def there() -> Iterator[Receiver]:
    with receiver() as there:
        yield there


@pytest.fixture
def made(ola, cast, there) -> dict:
    return ola.post(f"/groups/{cast.group.id}/webhooks", {"url": there.url})


def make_a_list(ola: Client, cast) -> str:
    brief = {"currency": "USD", "budget": {"amount": "40000.00", "currency": "USD"}}
    return ola.post(f"/groups/{cast.group.id}/lists", {"name": "Spring", "brief": brief})["id"]


def test_it_works(ola, cast, made, there, own):
    with running(sender(own)) as worker:
        until(lambda: worker.says("ready."))
        made_list = make_a_list(ola, cast)
        until(lambda: there.received)
        body = there.received[0].opened(made["secret"])
        assert (body["type"], body["data"]["thing_id"]) == ("list.created", made_list)
        (delivery,) = ola.get(f"/webhooks/{made['id']}/deliveries?state=delivered")["results"]
        assert [attempt["status"] for attempt in delivery["attempts"]] == [204]


def test_a_worker_killed_while_the_receiver_thinks_loses_nothing(ola, cast, made, there, own):
    there.hold = threading.Event()
    with running(own.beat()), running(sender(own)) as first:
        make_a_list(ola, cast)
        until(lambda: there.received)
        first.kill()
    assert Delivery.objects.get().state == "waiting"
    there.hold.set()
    # Until the dead one's lease has run out, nobody takes over.
    Webhook.objects.update(leased_until=timezone.now() + timedelta(seconds=3))
    with running(sender(own)), running(own.beat()):
        until(lambda: Delivery.objects.get().state == "delivered")
    assert len(there.received) == 2
    assert len({message.id for message in there.received}) == 1
    assert all(message.signed_with(made["secret"]) for message in there.received)


def test_without_the_broker_nothing_fails_and_the_sweep_sends_in_the_end(
    ola, cast, made, there, own
):
    own.gate.become("closed")
    make_a_list(ola, cast)
    own.gate.become("open")
    assert Delivery.objects.get().state == "waiting"
    with running(sender(own)), running(own.beat()):
        until(lambda: Delivery.objects.get().state == "delivered")
    assert there.received[0].signed_with(made["secret"])
