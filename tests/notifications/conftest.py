"""Helpers for notifications: run the job, and read somebody's inbox."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import pytest
from django.core import mail
from django.db import models
from django.utils import timezone

from apps.accounts.models import Token
from apps.boats.services import price_add
from apps.jobs import leases
from apps.notifications.jobs import group_notify
from apps.notifications.models import Inbox, Notification
from tests.appraisal.conftest import Spring, _few_draws, spring, yard  # noqa: F401
from tests.conftest import Cast, Speaker


@pytest.fixture(autouse=True)
def _mails_stay_here(settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    settings.PUBLIC_URL = "https://boats.example.org"
    settings.DEFAULT_FROM_EMAIL = "Hardstand <noreply@boats.example.org>"
    mail.outbox = []


@pytest.fixture
def notify(cast):
    """Run the job on the group until nothing is left to do."""

    def notify(group=cast.group) -> int:
        return group_notify(group_id=group.id)

    return notify


def inbox(who: Speaker, query: str = "") -> list[dict[str, Any]]:
    answer = who.get(f"/notifications{query}")
    assert answer.status_code == 200, answer.content
    return answer.json()["results"]


def types(who: Speaker, query: str = "") -> list[str]:
    return sorted(one["type"] for one in inbox(who, query))


def told(who: Speaker, type: str, query: str = "") -> dict[str, Any]:
    """The only notification of this type."""
    (found,) = [one for one in inbox(who, query) if one["type"] == type]
    return found


def confirmed(who: Speaker, **chosen: Any) -> Inbox:
    """A person with a confirmed address."""
    inbox, _ = Inbox.objects.update_or_create(
        id=who.person.pk,
        defaults={"person": who.person, "confirmed_email": who.person.email, **chosen},
    )
    return inbox


def everything_read(cast: Cast) -> None:
    """Mark all notifications of all people as read."""
    Notification.objects.filter(read_at=None).update(read_at=timezone.now())


@pytest.fixture
def petrel(yard, cast, notify):  # noqa: F811
    boat = yard.boat("Petrel", 26_000)
    notify()
    everything_read(cast)
    return boat


@pytest.fixture
def news(petrel, cast, notify):
    """A change that gives Bea a notification."""

    def happen(amount=24_000):
        price_add(candidate=petrel, by=cast.ben.person, amount=Decimal(amount), currency="USD")
        notify()

    return happen


@pytest.fixture
def clock(monkeypatch, cast):
    """Sets the time of the service and its database; everybody stays signed in."""
    Token.objects.update(expires_at=datetime(2099, 1, 1, tzinfo=UTC))
    now = SimpleNamespace(at=timezone.now())
    monkeypatch.setattr(timezone, "now", lambda: now.at)
    at = models.DateTimeField()
    monkeypatch.setattr(leases, "Now", lambda: models.Value(now.at, output_field=at))

    def forward(**by):
        now.at += timedelta(**by)

    def to(moment):
        now.at = moment

    return SimpleNamespace(forward=forward, to=to, now=lambda: now.at)
