"""Leases, back-off and reports of jobs, tested on webhooks, the simplest records with a job."""

import time
import uuid
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection, transaction
from django.db.models.functions import Now
from django.utils import timezone

from apps.events.models import Webhook
from apps.jobs import backoff, leases
from apps.jobs.backoff import BackOff
from apps.jobs.leases import Lease, claim, free, kinds, rested, swept, void_all, work_while_due
from apps.jobs.selectors import failing

TWICE = BackOff((timedelta(seconds=30), timedelta(minutes=5)), most_attempts=3)


@pytest.fixture
def job(db) -> Webhook:
    return Webhook.objects.create(group=uuid.uuid4(), url="https://x.example.org", secret="x")


def held(job: Webhook) -> Lease[Webhook]:
    lease = claim(due(), job.pk)
    assert lease is not None
    return lease


def due():
    return Webhook.objects.filter(Webhook.UNFINISHED, rested())


def database_time() -> datetime:
    return Webhook.objects.annotate(now=Now()).values_list("now", flat=True)[0]


def test_one_holder_at_a_time(job):
    lease = held(job)
    assert claim(due(), job.pk) is None
    assert lease.job.leased_by == lease.holder
    assert lease.release()
    assert claim(due(), job.pk) is not None


@pytest.mark.served
@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("several_writers")
def test_a_claim_that_waited_for_another_s_looks_again(job):
    """Also where other tables decide what is due: then the update contains a subquery."""

    def second():
        try:
            return claim(due().filter(deliveries=None), job.pk)
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as pool:
        with transaction.atomic():
            assert held(job)
            waiting = pool.submit(second)
            time.sleep(0.5)
        assert waiting.result() is None


def test_what_is_not_due_is_not_claimed(job):
    assert claim(due().filter(url="another"), job.pk) is None
    assert claim(due(), uuid.uuid4()) is None


def test_a_worker_s_clock_sets_no_lease(job, monkeypatch):
    """A clock that is two hours ahead."""
    ahead = timezone.now() + timedelta(hours=2)
    monkeypatch.setattr(timezone, "now", lambda: ahead)
    lease = held(job)
    now = database_time()
    assert now < Webhook.objects.get().leased_until <= now + leases.LEASE
    lease.heartbeat()
    assert Webhook.objects.get().leased_until <= database_time() + leases.LEASE
    lease.fail(ValueError("late"), TWICE)
    assert Webhook.objects.get().next_attempt_at < database_time() + timedelta(minutes=1)


def test_a_lease_that_is_too_long_is_none(job):
    held(job)
    Webhook.objects.update(leased_until=Now() + timedelta(hours=2))
    assert swept(due()) == [job.pk]
    assert claim(due(), job.pk) is not None


def test_nobody_gets_a_lease_that_is_too_long(job):
    claim(due(), job.pk, timedelta(hours=2))
    assert not due().filter(free()).exists()
    Webhook.objects.update(leased_until=Now() - timedelta(seconds=1))
    assert due().filter(free()).exists()


def test_who_lost_the_lease_changes_nothing(job):
    old = held(job)
    Webhook.objects.update(leased_until=Now() - timedelta(seconds=1))
    new = held(job)
    assert not old.heartbeat(attempts=7)
    assert not old.release(url="https://old.example.org")
    old.fail(ValueError("late"), TWICE)
    stored = Webhook.objects.get()
    assert (stored.leased_by, stored.attempts, stored.url) == (new.holder, 0, job.url)


def test_each_failure_waits_longer_and_the_last_gives_it_up(job):
    waits, since = [], set()
    for attempt in range(1, 4):
        again = held(job).fail(ValueError("no answer"), TWICE)
        stored = Webhook.objects.get()
        assert (stored.attempts, stored.last_error) == (attempt, "ValueError: no answer")
        assert stored.leased_by is stored.leased_until is None
        since.add(stored.failing_since)
        if again:
            assert claim(due(), job.pk) is None
            waits.append((stored.next_attempt_at - database_time()).total_seconds())
            Webhook.objects.update(next_attempt_at=Now())
    assert (again, stored.next_attempt_at, len(since)) == (False, None, 1)
    assert 25 < waits[0] <= 36
    assert 295 < waits[1] <= 360


def test_success_leaves_nothing_of_the_failures(job):
    held(job).fail(ValueError("no answer"), TWICE, at_least=timedelta(0))
    Webhook.objects.update(next_attempt_at=None)
    held(job).succeed()
    stored = Webhook.objects.get()
    assert (stored.attempts, stored.last_error, stored.failing_since) == (0, "", None)
    assert (stored.leased_by, stored.leased_until) == (None, None)


def test_an_attempt_that_was_counted_before_is_not_counted_twice(job):
    lease = held(job)
    assert lease.count_attempt() == 1
    lease.fail(ValueError("no answer"), TWICE, counted=True)
    assert Webhook.objects.get().attempts == 1


def test_rounds_go_on_while_it_is_due(job):
    assert work_while_due(lambda: claim(due(), job.pk), lambda lease: None, 3) == 3
    fails = work_while_due(
        lambda: claim(due(), job.pk), lambda lease: lease.fail(ValueError(), TWICE)
    )
    assert fails == 1
    assert Webhook.objects.get().leased_by is None


@pytest.mark.parametrize("name", ["MUST", "ASKED", "MAIL", "RECEIVER", "MESSAGE"])
def test_the_table_of_waits(name):
    """Waits grow; jitter makes each longer, by a fifth at most."""
    row: BackOff = getattr(backoff, name)
    assert list(row.waits) == sorted(row.waits)
    for failed, wait in enumerate(row.waits, start=1):
        drawn = {row.wait(failed) for _ in range(20)}
        assert all(wait <= one <= 1.2 * wait for one in drawn)
        assert len(drawn) > 1
    after = row.wait(len(row.waits) + 1)
    assert (after is None) == row.exhausted(len(row.waits) + 1) == (row.most_attempts is not None)


def test_the_only_worker_voids_all_leases(job):
    held(job)
    void_all()
    assert claim(due(), job.pk) is not None


# --- What they say of themselves -----------------------------------------------------------------


def test_what_fails_is_listed_whatever_it_is(job, django_assert_num_queries):
    assert list(failing()) == []
    held(job).fail(ValueError("no answer"), TWICE)
    with django_assert_num_queries(len(kinds())):
        (found,) = failing()
    assert (found.kind, found.pk, found.attempts) == ("events.Webhook", str(job.pk), 1)
    assert found.last_error == "ValueError: no answer"
    assert found.since <= found.next_attempt_at
    Webhook.objects.update(enabled=False, stopped_because="by_hand")
    assert list(failing()) == []


def test_a_dead_worker_is_listed_when_its_lease_is_over(job):
    held(job)
    assert list(failing()) == []
    Webhook.objects.update(leased_until=Now() - timedelta(minutes=5))
    (found,) = failing()
    assert found.last_error == "the worker that held it was not heard of again"


def test_the_command_is_for_whatever_watches(job):
    out = StringIO()
    call_command("failing_jobs", stdout=out)
    assert out.getvalue() == ""
    held(job).fail(ValueError("no answer"), TWICE)
    call_command("failing_jobs", minutes=5, stdout=out)
    assert out.getvalue() == ""
    with pytest.raises(SystemExit) as ended:
        call_command("failing_jobs", stdout=out)
    assert ended.value.code == 1
    assert f"events.Webhook {job.pk}: 1 failed attempts since" in out.getvalue()
    assert "ValueError: no answer" in out.getvalue()
