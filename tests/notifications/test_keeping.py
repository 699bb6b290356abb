"""How long notifications are kept, and what is deleted with a person."""

from datetime import timedelta

import pytest
from django.utils import timezone

from apps.notifications.models import DigestEmail, GroupChoice, Inbox, Notification
from apps.notifications.retention import digests_prune, notifications_prune
from tests.archives.conftest import exported, fetched, unpacked
from tests.notifications.conftest import confirmed, inbox, told

PASSWORD = "tidal stream 9"


@pytest.fixture
def asked(yard, cast, notify):
    """Ben asks Bea something about a boat: one thing waits, and one changed, for her."""
    boat = yard.boat("Petrel", 26_000)
    question = {
        "question": "When was the keel last off?",
        "asked_of": "seller",
        "assignee": str(cast.bea.person.pk),
    }
    confirmed(cast.bea)
    at = f"/groups/{cast.group.id}/notification-settings"
    assert cast.bea.change("PATCH", at, {"rhythm": "weekly"}).status_code == 200
    assert cast.ben.post(f"/candidates/{boat.pk}/follow-ups", question).status_code == 201
    notify()
    return boat


def test_ones_own_archive_has_them_and_nobody_elses(asked, cast):
    own = unpacked(fetched(exported(cast.bea, "/people/me/exports")))
    assert {row["type"] for row in own.rows["notifications"]} == {"question_given", "boats_added"}
    assert own.rows["notifications"][0]["group"] == str(cast.group.id)
    assert own.rows["notification_settings"][0]["confirmed_email"] == "bea@example.org"
    assert own.rows["notification_choices"][0]["rhythm"] == "weekly"
    hals = unpacked(fetched(exported(cast.hal, "/people/me/exports")))
    assert {row["type"] for row in hals.rows["notifications"]} == {"boats_added"}
    assert hals.rows["notification_choices"] == []


def test_a_groups_archive_has_none(asked, cast):
    archive = unpacked(fetched(exported(cast.ola, f"/groups/{cast.group.id}/exports")))
    assert not [name for name in archive.rows if "notification" in name]


def test_nothing_is_kept_of_who_leaves_for_good(asked, cast):
    cast.bea.person.set_password(PASSWORD)
    cast.bea.person.save()
    assert DigestEmail.objects.filter(person=cast.bea.person).exists()
    left = cast.bea.post("/people/me/deletions", {"password": PASSWORD})
    assert left.status_code == 204, left.content
    for model in (Notification, DigestEmail, Inbox, GroupChoice):
        assert not model.objects.filter(person=cast.bea.person).exists(), model
    assert inbox(cast.ben) is not None


def test_the_name_of_who_left_goes_from_others_notifications_too(asked, cast, notify):
    cast.ben.person.set_password(PASSWORD)
    cast.ben.person.save()
    assert "Ben asks you" in told(cast.bea, "question_given")["sentence"]
    assert cast.ben.post("/people/me/deletions", {"password": PASSWORD}).status_code == 204
    assert "Ben" not in told(cast.bea, "question_given")["sentence"]


def test_what_was_seen_goes_after_a_while_what_still_waits_stays(asked, cast, settings):
    settings.CHANGES_KEPT = timedelta(days=30)
    long_ago = timezone.now() - timedelta(days=31)
    Notification.objects.update(read_at=long_ago, added_at=long_ago)
    assert notifications_prune() > 0
    assert set(Notification.objects.values_list("type", flat=True)) == {"question_given"}
    Notification.objects.update(settled_at=long_ago)
    assert notifications_prune() == 1


def test_digests_outlive_what_was_in_them(asked, cast, settings):
    """Otherwise a notification that is still there would seem not to have been mailed."""
    settings.CHANGES_KEPT = timedelta(days=30)
    digest = DigestEmail.objects.get()
    Notification.objects.filter(person=cast.bea.person).update(digest=digest)
    DigestEmail.objects.update(
        state="sent", next_attempt_at=None, ended_at=timezone.now() - timedelta(days=31)
    )
    assert digests_prune() == 0
    Notification.objects.all().delete()
    assert digests_prune() == 1
