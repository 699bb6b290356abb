"""Digests by e-mail: when, to whom, and what is in them."""

from datetime import UTC, datetime, timedelta

from apps.notifications.models import DigestEmail, Notification
from tests.notifications.conftest import confirmed, everything_read, told, types
from tests.notifications.mails import send


def test_it_works(news, cast, clock):
    confirmed(cast.bea, rhythm="daily", hour=7)
    clock.to(datetime(2031, 5, 4, 9, tzinfo=UTC))
    news()
    digest = DigestEmail.objects.get()
    assert (digest.person, digest.next_attempt_at) == (
        cast.bea.person,
        datetime(2031, 5, 5, 7, tzinfo=UTC),
    )
    assert send() == []  # not yet
    clock.to(digest.next_attempt_at)
    (message,) = send()
    assert message.to == ["bea@example.org"]
    assert message.subject == "Hardstand: 1 changed"
    assert "- Tern: Petrel: the asking price is 24,000 USD, it was 26,000 USD." in message.body
    assert "not a survey" in message.body
    ((page, kind),) = message.alternatives
    assert kind == "text/html"
    assert "<li>Tern: Petrel: the asking price is 24,000 USD" in page
    digest.refresh_from_db()
    assert digest.state == "sent"
    assert told(cast.bea, "price_changed", "?read=false")["mailed"] is True


def test_nothing_is_mailed_to_an_address_that_was_not_confirmed(news, cast, clock):
    news()
    clock.forward(days=10)
    assert send() == []
    assert not DigestEmail.objects.exists()


def test_quiet_where_there_is_nothing(news, cast, clock):
    confirmed(cast.bea)
    news()
    everything_read(cast)
    clock.forward(days=2)
    assert send() == []
    assert not DigestEmail.objects.exists()


def test_each_notification_goes_into_one_mail(news, cast, clock):
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
    (still,) = [
        n for n in Notification.objects.filter(person=cast.bea.person, read_at=None) if n.unseen
    ]
    assert still.times == 2


def test_one_digest_a_day_whatever_the_hour_becomes(news, cast, clock):
    confirmed(cast.bea, hour=7)
    clock.to(datetime(2031, 5, 4, 9, tzinfo=UTC))
    news(25_000)
    clock.to(datetime(2031, 5, 5, 7, tzinfo=UTC))
    assert len(send()) == 1
    assert cast.bea.change("PATCH", "/notification-settings", {"hour": 9}).status_code == 200
    news(24_000)
    assert DigestEmail.objects.get(state="waiting").next_attempt_at == datetime(
        2031, 5, 6, 9, tzinfo=UTC
    )


def test_other_choices_plan_what_is_pending_anew(news, cast, clock):
    confirmed(cast.bea)
    clock.to(datetime(2031, 5, 4, 9, tzinfo=UTC))  # a Sunday
    news()
    chosen = {"rhythm": "weekly", "weekday": 5, "hour": 18, "time_zone": "America/Halifax"}
    assert cast.bea.change("PATCH", "/notification-settings", chosen).status_code == 200
    digest = DigestEmail.objects.get()
    assert (digest.occasion, digest.next_attempt_at) == (
        "weekly",
        datetime(2031, 5, 9, 21, tzinfo=UTC),
    )
    at = f"/groups/{cast.group.id}/notification-settings"
    assert cast.bea.change("PATCH", at, {"rhythm": "at_once"}).status_code == 200
    digest = DigestEmail.objects.get()
    assert digest.occasion == "at_once"
    assert digest.next_attempt_at - clock.now() <= timedelta(minutes=4)
    assert cast.bea.change("PATCH", at, {"by_mail": ["waiting"]}).status_code == 200
    assert not DigestEmail.objects.exists()


def test_kinds_that_are_not_wanted_are_not_told(news, cast):
    at = f"/groups/{cast.group.id}/notification-settings"
    off = {"in_service": ["waiting"], "by_mail": []}
    assert cast.bea.change("PATCH", at, off).status_code == 200
    news()
    assert "price_changed" not in types(cast.bea, "?read=false")
    assert not Notification.objects.filter(person=cast.bea.person, read_at=None).exists()


def test_what_is_only_mailed_is_not_in_the_inbox(news, cast, clock):
    confirmed(cast.bea, in_service=["waiting"])
    news()
    assert types(cast.bea, "?read=false") == []
    clock.forward(days=1)
    assert len(send()) == 1


def test_whoever_left_the_group_is_mailed_nothing_of_it(news, cast, clock):
    confirmed(cast.bea)
    news()
    cast.bea.change("DELETE", f"/members/{cast.membership(cast.bea).pk}")
    clock.forward(days=1)
    assert send() == []  # though the job has not heard of it yet
    assert not DigestEmail.objects.exists()
