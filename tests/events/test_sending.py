"""Sending to a receiver that uses the Standard Webhooks specification's library."""

from datetime import timedelta

import pytest
from django.utils import timezone
from drf_spectacular.generators import SchemaGenerator
from jsonschema import Draft202012Validator, FormatChecker
from standardwebhooks.webhooks import WebhookVerificationError

from apps.common.encryption import encrypt
from apps.common.processes.broker import broker
from apps.events.models import Delivery, Event, Webhook
from apps.events.tasks import deliver, sweep_deliveries
from apps.events.webhooks import sending
from apps.events.webhooks.sending import lease_claim, webhook_send
from apps.jobs.backoff import MESSAGE
from tests.events.receiving import receiver
from tests.events.test_changes import happen

pytestmark = pytest.mark.usefixtures("own_machine")


@pytest.fixture
def there():
    with receiver() as there:
        yield there


@pytest.fixture
def made(cast, there) -> dict:
    return cast.ola.post(f"/groups/{cast.group.id}/webhooks", {"url": there.url}).json()


def webhook() -> Webhook:
    return Webhook.objects.get()


def only_delivery() -> Delivery:
    return Delivery.objects.get()


def send(made: dict) -> int:
    return webhook_send(webhook_id=made["id"])


def later(**wait) -> None:
    """Advance the time for everything that waits."""
    for row in Delivery.objects.filter(state="waiting"):
        Delivery.objects.filter(pk=row.pk).update(due_at=row.due_at - timedelta(**wait))
    for row in Webhook.objects.exclude(next_attempt_at=None):
        rested = row.next_attempt_at - timedelta(**wait)
        Webhook.objects.filter(pk=row.pk).update(next_attempt_at=rested)


def test_it_works(cast, made, there):
    event = happen(cast.group, "quote.added", by_id=cast.ben.person.id)
    deliver(made["id"])
    (message,) = there.received
    body = message.opened(made["secret"])  # raises unless signed, and signed just now
    assert body["type"] == "quote.added"
    assert body["data"]["thing_id"] == str(event.thing_id)
    assert body["data"]["number"] == event.number
    delivery = only_delivery()
    assert (delivery.state, delivery.due_at, delivery.tries) == ("delivered", None, 0)
    assert message.id == str(delivery.pk)
    (attempt,) = delivery.attempts.all()
    assert (attempt.status, attempt.error) == (204, "")
    assert webhook().last_success_at is not None


def test_messages_are_what_the_openapi_document_says(cast, made, there):
    document = SchemaGenerator().get_schema(public=True)
    said = document["webhooks"]["message"]["post"]["requestBody"]["content"]["application/json"]
    shape = Draft202012Validator(
        {**said["schema"], "additionalProperties": False}, format_checker=FormatChecker()
    )
    happen(cast.group, "quote.added", by_id=cast.ben.person.id, facts={"of": "x"})
    happen(cast.group, "results.ready")
    cast.ola.post(f"/webhooks/{made['id']}/trials")
    send(made)
    bodies = [message.opened(made["secret"]) for message in there.received]
    assert [body["type"] for body in bodies] == ["quote.added", "results.ready", "webhook.trial"]
    for body in bodies:
        shape.validate(body)
        assert body["data"].keys() <= said["schema"]["properties"]["data"]["properties"].keys()


def test_a_message_changed_on_the_way_is_found_out(cast, made, there):
    happen(cast.group, "quote.added")
    send(made)
    (message,) = there.received
    message.body = message.body.replace(b"quote.added", b"quote.edited")
    with pytest.raises(WebhookVerificationError):
        message.opened(made["secret"])


def test_messages_go_in_order_and_each_once(cast, made, there):
    numbers = [happen(cast.group, "quote.added").number for _ in range(5)]
    assert send(made) == 5
    assert send(made) == 0
    assert [m.opened(made["secret"])["data"]["number"] for m in there.received] == numbers


def test_what_fails_is_tried_again_under_the_same_id(cast, made, there):
    there.statuses = [500, 204]
    happen(cast.group, "quote.added")
    assert send(made) == 1
    delivery = only_delivery()
    assert (delivery.state, delivery.tries) == ("waiting", 1)
    wait = (delivery.due_at - timezone.now()).total_seconds()
    assert 3 < wait < 6
    assert send(made) == 0  # not before its time
    later(seconds=6)
    assert send(made) == 1
    assert only_delivery().state == "delivered"
    first, second = there.received
    assert first.id == second.id
    assert first.body == second.body
    assert second.signed_with(made["secret"])
    assert webhook().attempts == 0
    assert webhook().next_attempt_at is None


def test_the_whole_schedule_then_a_dead_letter(cast, made, there):
    there.statuses = [503]
    happen(cast.group, "quote.added")
    for tries in range(MESSAGE.most_attempts):
        later(days=2)
        assert send(made) == 1
        assert only_delivery().attempts.count() == tries + 1
    delivery = only_delivery()
    assert (delivery.state, delivery.tries, delivery.due_at) == (
        "failed",
        MESSAGE.most_attempts,
        None,
    )
    assert {attempt.status for attempt in delivery.attempts.all()} == {503}
    later(days=2)
    assert send(made) == 0
    listed = cast.ola.get(f"/webhooks/{made['id']}/deliveries?state=failed").json()["results"]
    assert len(listed[0]["attempts"]) == MESSAGE.most_attempts


def test_an_endpoint_that_never_answered_is_stopped_with_its_first_dead_letter(cast, made, there):
    there.statuses = [500]
    happen(cast.group, "quote.added")
    happen(cast.group, "quote.added")
    Delivery.objects.order_by("pk").filter(pk=Delivery.objects.earliest("pk").pk).update(
        tries=MESSAGE.most_attempts - 1
    )
    assert send(made) == 1
    stopped = webhook()
    assert (stopped.enabled, stopped.stopped_because) == (False, "no_answer")
    assert set(Delivery.objects.values_list("state", flat=True)) == {"failed"}
    event = Event.objects.get(kind="webhook.stopped")
    assert (event.thing_id, event.by) == (stopped.pk, None)


def test_a_dead_letter_among_others_that_got_through_stops_nothing(cast, made, there):
    happen(cast.group, "quote.added")
    Delivery.objects.update(tries=MESSAGE.most_attempts - 1)
    Webhook.objects.update(last_success_at=timezone.now())
    there.statuses = [500]
    send(made)
    assert only_delivery().state == "failed"
    assert webhook().enabled


def test_a_dead_letter_is_resent(cast, made, there):
    happen(cast.group, "quote.added")
    Delivery.objects.update(state="failed", due_at=None, tries=10)
    Webhook.objects.update(next_attempt_at=timezone.now() + timedelta(hours=1))
    cast.ola.post(f"/deliveries/{only_delivery().pk}/resends")
    assert send(made) == 1
    assert there.received[0].id == str(only_delivery().pk)
    assert only_delivery().state == "delivered"


def test_gone_stops_the_webhook_at_once(cast, made, there):
    there.statuses = [410]
    happen(cast.group, "quote.added")
    happen(cast.group, "quote.added")
    assert send(made) == 1
    stopped = webhook()
    assert (stopped.enabled, stopped.stopped_because) == (False, "gone")
    assert set(Delivery.objects.values_list("state", flat=True)) == {"failed"}
    happen(cast.group, "quote.added")
    assert Delivery.objects.count() == 2


@pytest.mark.parametrize("status", [429, 503])
def test_a_receiver_s_wish_to_wait_is_honoured(cast, made, there, status):
    there.statuses, there.answer_headers = [status], {"Retry-After": "3600"}
    happen(cast.group, "quote.added")
    happen(cast.group, "quote.added")
    assert send(made) == 1
    now = timezone.now()
    assert Delivery.objects.earliest("pk").due_at > now + timedelta(minutes=59)
    assert webhook().next_attempt_at > now + timedelta(minutes=59)
    later(minutes=30)
    assert send(made) == 0


def test_an_endpoint_that_is_down_costs_one_attempt_a_rest(cast, made, there):
    there.statuses = [500]
    for _ in range(20):
        happen(cast.group, "quote.added")
    assert send(made) == 1
    sweep_deliveries()
    assert send(made) == 0
    assert len(there.received) == 1
    later(seconds=6)
    assert send(made) == 1
    assert len(there.received) == 2


def test_no_redirect_is_followed(cast, made, there):
    with receiver() as elsewhere:
        there.statuses, there.answer_headers = [307], {"Location": elsewhere.url}
        happen(cast.group, "quote.added")
        send(made)
        assert elsewhere.received == []
    assert only_delivery().attempts.get().status == 307


def test_both_secrets_sign_for_a_while_after_a_rotation(cast, made, there):
    new = cast.ola.post(f"/webhooks/{made['id']}/rotations").json()["secret"]
    happen(cast.group, "quote.added")
    send(made)
    Webhook.objects.update(old_secret_until=timezone.now())
    happen(cast.group, "quote.added")
    send(made)
    during, after = there.received
    assert (during.signed_with(made["secret"]), during.signed_with(new)) == (True, True)
    assert (after.signed_with(made["secret"]), after.signed_with(new)) == (False, True)


def test_a_trial_gets_through(cast, made, there):
    Webhook.objects.update(next_attempt_at=timezone.now() + timedelta(hours=1))
    cast.ola.post(f"/webhooks/{made['id']}/trials")
    assert send(made) == 1
    assert there.received[0].opened(made["secret"])["type"] == "webhook.trial"


def test_what_a_member_does_is_told(cast, made, there):
    """From the API to the receiver."""
    brief = {"currency": "USD", "budget": {"amount": "40000.00", "currency": "USD"}}
    listed = cast.ola.post(f"/groups/{cast.group.id}/lists", {"name": "Spring", "brief": brief})
    boat = cast.ben.post(f"/lists/{listed.json()['id']}/candidates", {"name": "Whimbrel"}).json()
    cast.ben.post(f"/candidates/{boat['id']}/stage-changes", {"stage": "viewing"})
    send(made)
    told = [message.opened(made["secret"]) for message in there.received]
    assert [body["type"] for body in told] == [
        "list.created",
        "candidate.added",
        "candidate.stage_changed",
    ]
    assert told[-1]["data"]["thing_id"] == boat["id"]
    assert told[-1]["data"]["facts"]["to"] == "viewing"


# --- Addresses -----------------------------------------------------------------------------------


def test_nothing_is_sent_inside_once_the_operator_closed_it(cast, made, there, settings):
    settings.WEBHOOK_OWN_NETWORKS = []
    happen(cast.group, "quote.added")
    assert send(made) == 1
    assert there.received == []
    assert only_delivery().attempts.get().error == "not_https"


def test_a_name_that_leads_inside_gets_nothing(cast, there, names, settings):
    settings.WEBHOOK_OWN_NETWORKS = []
    names["hooks.example.org"] = ["127.0.0.1"]
    made = cast.ola.post(
        f"/groups/{cast.group.id}/webhooks", {"url": "https://hooks.example.org/"}
    ).json()
    cast.ola.post(f"/webhooks/{made['id']}/trials")
    send(made)
    assert there.received == []
    attempt = only_delivery().attempts.get()
    assert (attempt.status, attempt.error) == (None, "address_not_allowed")


def test_a_secret_that_cannot_be_read_is_said(cast, made, there, settings):
    settings.SECRET_KEY = "another"
    happen(cast.group, "quote.added")
    send(made)
    assert there.received == []
    assert only_delivery().attempts.get().error == "secret_unreadable"


# --- One worker at a time ------------------------------------------------------------------------


def test_whoever_finds_the_lease_taken_does_nothing(cast, made, there):
    happen(cast.group, "quote.added")
    assert lease_claim(webhook().pk) is not None
    assert lease_claim(webhook().pk) is None
    assert send(made) == 0


def test_a_dead_worker_s_lease_runs_out(cast, made, there):
    happen(cast.group, "quote.added")
    lease_claim(webhook().pk)
    Webhook.objects.update(leased_until=timezone.now() - timedelta(seconds=1))
    assert send(made) == 1


def test_what_comes_too_late_is_not_recorded(cast, made, there, monkeypatch):
    """A worker that lost its lease while it waited for an answer leaves the rest to the other."""
    happen(cast.group, "quote.added")
    real = sending.post

    def slow(*arguments):
        outcome = real(*arguments)
        Webhook.objects.update(leased_by=webhook().pk)
        return outcome

    monkeypatch.setattr(sending, "post", slow)
    assert send(made) == 1
    assert only_delivery().state == "waiting"
    assert not only_delivery().attempts.exists()
    assert webhook().leased_by is not None  # the other's lease is left alone


def test_the_lease_is_given_back_though_sending_fails(cast, made, there, monkeypatch):
    happen(cast.group, "quote.added")
    monkeypatch.setattr(sending, "attempt", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        send(made)
    assert webhook().leased_until is None
    assert only_delivery().state == "waiting"


def test_a_webhook_deleted_or_stopped_meanwhile_is_left(cast, made, there):
    happen(cast.group, "quote.added")
    Webhook.objects.update(enabled=False, stopped_because="by_hand")
    assert send(made) == 0
    Webhook.objects.all().delete()
    assert send(made) == 0
    assert there.received == []


# --- Hints and the sweep -------------------------------------------------------------------------


@pytest.fixture
def sent(monkeypatch) -> list[tuple]:
    told: list[tuple] = []
    monkeypatch.setattr(broker, "send", lambda *message: told.append(message))
    return told


def test_a_worker_is_told_after_the_commit(cast, made, sent, django_capture_on_commit_callbacks):
    with django_capture_on_commit_callbacks(execute=True):
        happen(cast.group, "quote.added")
        assert sent == []
    assert sent == [("apps.events.tasks.deliver", made["id"])]


def test_the_sweep_finds_what_was_lost(cast, made, sent):
    sweep_deliveries()
    assert sent == []
    happen(cast.group, "quote.added")
    sweep_deliveries()
    assert sent == [("apps.events.tasks.deliver", made["id"])]
    sent.clear()
    Webhook.objects.update(next_attempt_at=timezone.now() + timedelta(minutes=1))
    sweep_deliveries()
    assert sent == []


def test_the_sweep_takes_one_query(cast, made, sent, django_assert_num_queries):
    happen(cast.group, "quote.added")
    for _ in range(3):
        other = Webhook.objects.create(group=cast.group.id, url="https://x.example.org", secret="x")
        Delivery.objects.create(webhook=other, kind="x", body="{}", due_at=timezone.now())
    with django_assert_num_queries(1):
        sweep_deliveries()
    assert len(sent) == 4


def test_the_queue_of_receivers_is_not_that_of_results(settings):
    from server.celery import app

    routed = app.amqp.router.route({}, "apps.events.tasks.deliver")
    assert routed["queue"].name == "sending"
    results = app.amqp.router.route({}, "apps.appraisal.tasks.recompute_list")
    assert results["queue"].name == "results"
    long = app.amqp.router.route({}, "apps.planning.tasks.plan_trip")
    assert long["queue"].name == "planning"


def test_sending_stops_in_time_for_others(cast, made, there, monkeypatch):
    monkeypatch.setattr(sending, "MOST_SECONDS", 0.0)
    happen(cast.group, "quote.added")
    assert send(made) == 0
    assert webhook().leased_until is None


def test_an_encrypted_old_secret_is_never_needed_after_its_time(cast, made):
    Webhook.objects.update(old_secret="unreadable", old_secret_until=timezone.now())
    assert sending.signing_secrets(webhook()) == [made["secret"]]
    Webhook.objects.update(
        old_secret=encrypt("whsec_b2xk"), old_secret_until=timezone.now() + timedelta(hours=1)
    )
    assert sending.signing_secrets(webhook()) == [made["secret"], "whsec_b2xk"]
