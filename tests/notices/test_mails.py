"""Digests by e-mail: when, to whom, what is in them; and each only once."""

import smtplib
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from email import message_from_string
from email.policy import default
from email.utils import parsedate_to_datetime
from types import SimpleNamespace

import pytest
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend
from django.db import transaction
from django.utils import timezone

from apps.accounts.models import Token
from apps.boats.services import price_add, stage_change
from apps.notices import mailing
from apps.notices.letters import letter_fill
from apps.notices.mailing import letters_doubt, letters_due, letters_send
from apps.notices.models import Letter, Notice
from apps.notices.writing import written
from tests.notices.conftest import confirmed, everything_read, matters, told


@pytest.fixture
def petrel(yard, cast, tell):
    boat = yard.boat("Petrel", 26_000)
    tell()
    everything_read(cast)
    return boat


@pytest.fixture
def news(petrel, cast, tell):
    """Something happens that Bea is told of."""

    def happen(amount=24_000):
        price_add(candidate=petrel, by=cast.ben.person, amount=Decimal(amount), currency="USD")
        tell()

    return happen


@pytest.fixture
def clock(monkeypatch, cast):
    """Moves the time of the service; everybody stays signed in."""
    Token.objects.update(expires_at=datetime(2099, 1, 1, tzinfo=UTC))
    now = SimpleNamespace(at=timezone.now())
    monkeypatch.setattr(timezone, "now", lambda: now.at)

    def forward(**by):
        now.at += timedelta(**by)

    def to(moment):
        now.at = moment

    return SimpleNamespace(forward=forward, to=to, now=lambda: now.at)


class Server(EmailBackend):
    """A mail server that does as it is told, and keeps what it took."""

    def __init__(self, fault=None, *, opens=True):
        super().__init__()
        self.fault, self.opens, self.taken, self.inside = fault, opens, [], []

    def open(self):
        if not self.opens:
            raise ConnectionRefusedError("no mail server there")

    def send_messages(self, messages):
        self.inside.append(transaction.get_connection().in_atomic_block)
        if self.fault:
            raise self.fault
        self.taken += messages
        return len(messages)


def send(server=None):
    server = server or Server()
    letters_send(lambda: server)
    return server.taken


def test_it_works(news, cast, clock):
    confirmed(cast.bea, rhythm="daily", hour=7)
    clock.to(datetime(2031, 5, 4, 9, tzinfo=UTC))
    news()
    letter = Letter.objects.get()
    assert (letter.person, letter.due_at) == (cast.bea.person, datetime(2031, 5, 5, 7, tzinfo=UTC))
    assert send() == []  # not yet
    clock.to(letter.due_at)
    (message,) = send()
    assert message.to == ["bea@example.org"]
    assert message.subject == "Hardstand: 1 changed"
    assert "- Tern: Petrel: the asking price is 24,000 USD, it was 26,000 USD." in message.body
    assert "not a survey" in message.body
    ((page, kind),) = message.alternatives
    assert kind == "text/html"
    assert "<li>Tern: Petrel: the asking price is 24,000 USD" in page
    letter.refresh_from_db()
    assert letter.state == "sent"
    assert told(cast.bea, "price_changed", "?read=false")["mailed"] is True


def test_nothing_is_mailed_to_an_address_that_was_not_confirmed(news, cast, clock):
    news()
    clock.forward(days=10)
    assert send() == []
    assert not Letter.objects.exists()


def test_quiet_where_there_is_nothing(news, cast, clock):
    confirmed(cast.bea)
    news()
    everything_read(cast)
    clock.forward(days=2)
    assert send() == []
    assert not Letter.objects.exists()


def test_each_notice_goes_into_one_mail(news, cast, clock):
    confirmed(cast.bea)
    news(25_000)
    clock.forward(days=1)
    assert len(send()) == 1
    clock.forward(days=1)
    assert send() == []
    news(24_000)  # not seen in the service, but told: told anew
    clock.forward(days=1)
    (message,) = send()
    assert "is 24,000 USD, it was 26,000 USD" in message.body
    (still,) = [n for n in Notice.objects.filter(person=cast.bea.person, read_at=None) if n.unseen]
    assert still.times == 2


def test_one_digest_a_day_whatever_the_hour_becomes(news, cast, clock):
    confirmed(cast.bea, hour=7)
    clock.to(datetime(2031, 5, 4, 9, tzinfo=UTC))
    news(25_000)
    clock.to(datetime(2031, 5, 5, 7, tzinfo=UTC))
    assert len(send()) == 1
    assert cast.bea.change("PATCH", "/notice-settings", {"hour": 9}).status_code == 200
    news(24_000)
    assert Letter.objects.get(state="waiting").due_at == datetime(2031, 5, 6, 9, tzinfo=UTC)


def test_other_choices_plan_what_is_pending_anew(news, cast, clock):
    confirmed(cast.bea)
    clock.to(datetime(2031, 5, 4, 9, tzinfo=UTC))  # a Sunday
    news()
    chosen = {"rhythm": "weekly", "weekday": 5, "hour": 18, "time_zone": "America/Halifax"}
    assert cast.bea.change("PATCH", "/notice-settings", chosen).status_code == 200
    letter = Letter.objects.get()
    assert (letter.occasion, letter.due_at) == ("weekly", datetime(2031, 5, 9, 21, tzinfo=UTC))
    at = f"/groups/{cast.group.id}/notice-settings"
    assert cast.bea.change("PATCH", at, {"rhythm": "at_once"}).status_code == 200
    letter = Letter.objects.get()
    assert letter.occasion == "at_once"
    assert letter.due_at - clock.now() <= timedelta(minutes=4)
    assert cast.bea.change("PATCH", at, {"by_mail": ["waiting"]}).status_code == 200
    assert not Letter.objects.exists()


def test_kinds_that_are_not_wanted_are_not_told(news, cast):
    at = f"/groups/{cast.group.id}/notice-settings"
    off = {"in_service": ["waiting"], "by_mail": []}
    assert cast.bea.change("PATCH", at, off).status_code == 200
    news()
    assert "price_changed" not in matters(cast.bea, "?read=false")
    assert not Notice.objects.filter(person=cast.bea.person, read_at=None).exists()


def test_what_is_only_mailed_is_not_in_the_inbox(news, cast, clock):
    confirmed(cast.bea, in_service=["waiting"])
    news()
    assert matters(cast.bea, "?read=false") == []
    clock.forward(days=1)
    assert len(send()) == 1


def test_whoever_left_the_group_is_mailed_nothing_of_it(news, cast, clock):
    confirmed(cast.bea)
    news()
    cast.bea.change("DELETE", f"/members/{cast.membership(cast.bea).pk}")
    clock.forward(days=1)
    assert send() == []  # though the job has not heard of it yet
    assert not Letter.objects.exists()


# --- Headers -------------------------------------------------------------------------------------


def test_headers_are_those_of_the_standards(news, cast, clock):
    """RFC 5322 (Date, Message-ID), RFC 3834 (Auto-Submitted), RFC 8058 (unsubscribing)."""
    confirmed(cast.bea)
    news()
    clock.forward(days=1)
    (sent,) = send()
    message = message_from_string(sent.message().as_string(), policy=default)
    letter = Letter.objects.get()
    assert message["Message-ID"] == f"<{letter.pk}@boats.example.org>"
    assert message["Auto-Submitted"] == "auto-generated"
    link = message["List-Unsubscribe"].strip()  # on a line of its own: it is long
    assert link.startswith("<https://boats.example.org/notices/unsubscribe/")
    assert message["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert message["From"] == "Hardstand <noreply@boats.example.org>"
    assert parsedate_to_datetime(message["Date"])
    assert message.get_content_type() == "multipart/alternative"
    kinds = [part.get_content_type() for part in message.iter_parts()]
    assert kinds == ["text/plain", "text/html"]  # the last is the preferred one (RFC 2046 5.1.4)


def test_no_post_is_promised_without_tls(news, cast, clock, settings):
    """RFC 8058 section 3.1: the address must be one of HTTPS."""
    settings.PUBLIC_URL = "http://127.0.0.1:8000"
    confirmed(cast.bea)
    news()
    clock.forward(days=1)
    (sent,) = send()
    assert "List-Unsubscribe" in sent.extra_headers
    assert "List-Unsubscribe-Post" not in sent.extra_headers


def test_names_put_nothing_into_headers_or_other_lines(petrel, cast, clock, tell):
    evil = "Petrel\r\nBcc: everybody@example.org\r\n\r\n- Tern: <b>sold</b>"
    type(petrel).objects.filter(pk=petrel.pk).update(name=evil[:120])
    cast.group.name = "Tern\nSubject: other"
    cast.group.save()
    confirmed(cast.bea)
    stage_change(candidate=petrel, by=cast.ben.person, stage="shortlisted")
    tell()
    clock.forward(days=1)
    (sent,) = send()
    message = message_from_string(sent.message().as_string(), policy=default)
    assert message["Bcc"] is None
    assert message["Subject"] == "Hardstand: 1 changed"
    lines = sent.body.splitlines()
    assert len([line for line in lines if line.startswith("- ")]) == 1
    assert "<b>" not in sent.alternatives[0][0]


# --- Once, whatever fails ------------------------------------------------------------------------


@pytest.fixture
def due(news, cast, clock) -> Letter:
    confirmed(cast.bea)
    news()
    clock.forward(days=1)
    return Letter.objects.get()


def test_mail_is_not_sent_inside_a_transaction_of_the_service(due):
    server = Server()
    outside = transaction.get_connection().in_atomic_block  # the test's own transaction
    send(server)
    assert server.inside == [outside]
    assert len(transaction.get_connection().savepoint_ids) == 0


def test_a_server_that_is_away_is_tried_again_later_and_later(due, clock):
    waits = []
    for _ in range(len(mailing.WAITS)):
        server = Server(opens=False)
        assert send(server) == []
        due.refresh_from_db()
        assert due.state == "waiting"
        waits.append(due.due_at - clock.now())
        clock.to(due.due_at)
    assert waits == sorted(waits) == list(mailing.WAITS)
    (sent,) = send()
    assert sent.extra_headers["Message-ID"].startswith(f"<{due.pk}@")
    assert send() == []


def test_a_refusal_for_now_is_no_delivery(due, clock):
    busy = smtplib.SMTPDataError(451, b"try again")
    assert send(Server(busy)) == []
    assert not letters_due().exists()  # not at once
    clock.forward(hours=1)
    assert len(send()) == 1


def test_given_up_in_the_end_what_was_in_it_goes_into_the_next(due, cast, clock):
    Letter.objects.update(tries=len(mailing.WAITS))
    send(Server(opens=False))
    due.refresh_from_db()
    assert due.state == "failed"
    assert "ConnectionRefusedError" in due.last_error
    following = Letter.objects.get(state="waiting")
    assert following.period != due.period
    clock.to(following.due_at)
    assert len(send()) == 1


def test_an_address_that_does_not_exist_gets_no_more(due, cast):
    unknown = smtplib.SMTPRecipientsRefused({"bea@example.org": (550, b"no such mailbox")})
    send(Server(unknown))
    assert Letter.objects.get().state == "failed"
    shown = cast.bea.get("/notice-settings").json()
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
    assert letters_doubt() == 0  # it may still be at it
    clock.forward(hours=1)
    assert letters_doubt() == 1
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
    held = mailing.letter_claim(due)
    clock.forward(hours=1)
    assert len(send()) == 1
    news(23_000)
    server = Server()
    assert mailing.letter_send(held, server) is False
    assert server.taken == []
    # Nor does it take along what was told since: that goes into the next.
    clock.forward(days=1)
    assert len(send()) == 1


def test_what_is_told_while_a_letter_is_under_way_goes_into_the_next(due, cast, clock, news):
    """After it was filled and before it is sent: of the same period, if the clock stood still."""
    held = mailing.letter_claim(due)
    assert len(letter_fill(due, held.holder).notices) == 1
    clock.to(due.due_at - timedelta(minutes=1))
    stage_change(
        candidate=Notice.objects.get(letter=due).candidate, by=cast.ben.person, stage="viewing"
    )
    news(23_000)
    (following,) = Letter.objects.exclude(pk=due.pk)
    assert (following.state, following.period != due.period) == ("waiting", True)
    mailing.ended(held, Letter.State.SENT)
    clock.to(following.due_at)
    (message,) = send()
    assert "moved her" in message.body


def test_one_that_cannot_be_written_does_not_keep_the_others_waiting(
    news, cast, clock, monkeypatch
):
    for who in (cast.bea, cast.ola):
        confirmed(who)
    news()
    clock.forward(days=1)
    bad = Letter.objects.order_by("due_at", "pk").first()

    def broken(letter, *args):
        return 1 / 0 if letter.pk == bad.pk else written(letter, *args)

    with monkeypatch.context() as failing:
        failing.setattr(mailing, "written", broken)
        assert len(send()) == 1
    bad.refresh_from_db()
    assert (bad.state, bad.tries) == ("waiting", 1)
    clock.forward(minutes=2)
    assert len(send()) == 1


def test_many_letters_take_one_connection(news, cast, clock):
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
    assert letters_send() == 1
    assert len(mail.outbox) == 1
