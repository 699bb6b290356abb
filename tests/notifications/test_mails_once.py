"""Each digest is handed over at most once, whatever fails."""

import smtplib
from datetime import timedelta

import pytest
from django.core import mail
from django.db import transaction

from apps.boats.services import stage_change
from apps.jobs import backoff
from apps.jobs.backoff import MAIL
from apps.jobs.leases import claim
from apps.notifications.mail import mailing
from apps.notifications.mail.digests import digest_fill
from apps.notifications.mail.mailing import digests_doubt, digests_due, digests_send
from apps.notifications.mail.writing import written
from apps.notifications.models import DigestEmail, Notification
from tests.notifications.conftest import confirmed
from tests.notifications.mails import Server, send


@pytest.fixture
def due(news, cast, clock) -> DigestEmail:
    confirmed(cast.bea)
    news()
    clock.forward(days=1)
    return DigestEmail.objects.get()


def test_mail_is_not_sent_inside_a_transaction_of_the_service(due):
    server = Server()
    outside = transaction.get_connection().in_atomic_block  # the test's own transaction
    send(server)
    assert server.inside == [outside]
    assert len(transaction.get_connection().savepoint_ids) == 0


def test_a_server_that_is_away_is_tried_again_later_and_later(due, clock, monkeypatch):
    monkeypatch.setattr(backoff, "JITTER", 0)
    waits = []
    for _ in range(len(MAIL.waits)):
        server = Server(opens=False)
        assert send(server) == []
        due.refresh_from_db()
        assert due.state == "waiting"
        waits.append(due.next_attempt_at - clock.now())
        clock.to(due.next_attempt_at)
    assert waits == sorted(waits) == list(MAIL.waits)
    (sent,) = send()
    assert sent.extra_headers["Message-ID"].startswith(f"<{due.pk}@")
    assert send() == []


def test_a_refusal_for_now_is_no_delivery(due, clock):
    busy = smtplib.SMTPDataError(451, b"try again")
    assert send(Server(busy)) == []
    assert not digests_due().exists()  # not at once
    clock.forward(hours=1)
    assert len(send()) == 1


def test_given_up_in_the_end_what_was_in_it_goes_into_the_next(due, cast, clock):
    DigestEmail.objects.update(attempts=len(MAIL.waits))
    send(Server(opens=False))
    due.refresh_from_db()
    assert due.state == "failed"
    assert "ConnectionRefusedError" in due.last_error
    following = DigestEmail.objects.get(state="waiting")
    assert following.period != due.period
    clock.to(following.next_attempt_at)
    assert len(send()) == 1


def test_an_address_that_does_not_exist_gets_no_more(due, cast):
    unknown = smtplib.SMTPRecipientsRefused({"bea@example.org": (550, b"no such mailbox")})
    send(Server(unknown))
    assert DigestEmail.objects.get().state == "failed"
    shown = cast.bea.get("/notification-settings").json()
    assert shown["mail"] == {"address": "bea@example.org", "confirmed": False}


@pytest.mark.parametrize(
    "fault", [smtplib.SMTPServerDisconnected("gone"), TimeoutError(), ConnectionResetError()]
)
def test_a_connection_lost_on_the_way_leaves_it_open_and_is_not_tried_again(due, clock, fault):
    send(Server(fault))
    due.refresh_from_db()
    assert due.state == "doubtful"
    clock.forward(days=30)
    assert send() == []


class Killed(BaseException):
    """What ends a process."""


def test_a_worker_killed_while_handing_over_sends_nothing_twice(due, clock):
    with pytest.raises(Killed):
        send(Server(Killed()))
    due.refresh_from_db()
    assert due.state == "sending"
    assert send() == []
    assert digests_doubt() == 0  # it may still be at it
    clock.forward(hours=1)
    assert digests_doubt() == 1
    due.refresh_from_db()
    assert due.state == "doubtful"
    assert send() == []


def test_a_worker_killed_before_handing_over_loses_nothing(due, clock, monkeypatch):
    def killed(*_):
        raise Killed

    with monkeypatch.context() as dying:
        dying.setattr(mailing, "written", killed)
        with pytest.raises(Killed):
            send()
    due.refresh_from_db()
    assert due.state == "waiting"
    assert send() == []  # until its lease has run out
    clock.forward(hours=1)
    assert len(send()) == 1


def test_one_that_lost_its_lease_does_not_hand_over(due, clock, news):
    held = claim(digests_due(), due.pk, mailing.lease_time())
    clock.forward(hours=1)
    assert len(send()) == 1
    news(23_000)
    server = Server()
    assert mailing.digest_send(held, server) is False
    assert server.taken == []
    # Nor does it take along what was told since: that goes into the next.
    clock.forward(days=1)
    assert len(send()) == 1


def test_what_is_told_while_a_digest_is_under_way_goes_into_the_next(due, cast, clock, news):
    """After it was filled and before it is sent: of the same period, if the clock stood still."""
    held = claim(digests_due(), due.pk, mailing.lease_time())
    assert len(digest_fill(held).notifications) == 1
    clock.to(due.next_attempt_at - timedelta(minutes=1))
    stage_change(
        candidate=Notification.objects.get(digest=due).candidate,
        by=cast.ben.person,
        stage="viewing",
    )
    news(23_000)
    (following,) = DigestEmail.objects.exclude(pk=due.pk)
    assert (following.state, following.period != due.period) == ("waiting", True)
    held.succeed(state=DigestEmail.State.SENT, ended_at=clock.now())
    clock.to(following.next_attempt_at)
    (message,) = send()
    assert "moved her" in message.body


def test_one_that_cannot_be_written_does_not_keep_the_others_waiting(
    news, cast, clock, monkeypatch
):
    for who in (cast.bea, cast.ola):
        confirmed(who)
    news()
    clock.forward(days=1)
    bad = DigestEmail.objects.order_by("next_attempt_at", "pk").first()

    def broken(digest, *args):
        return 1 / 0 if digest.pk == bad.pk else written(digest, *args)

    with monkeypatch.context() as failing:
        failing.setattr(mailing, "written", broken)
        assert len(send()) == 1
    bad.refresh_from_db()
    assert (bad.state, bad.attempts) == ("waiting", 1)
    clock.forward(minutes=2)
    assert len(send()) == 1


def test_many_digests_take_one_connection(news, cast, clock):
    for who in (cast.bea, cast.ola, cast.hal, cast.ivy):
        confirmed(who)
    news()
    clock.forward(days=1)
    server = Server()
    assert len(send(server)) == 4
    assert {message.to[0] for message in server.taken} == {
        f"{name}@example.org" for name in ("bea", "ola", "hal", "ivy")
    }


def test_the_settings_backend_is_used(due):
    assert digests_send() == 1
    assert len(mail.outbox) == 1
