"""Recomputing: one worker per list; nothing is lost or overwritten by older results."""

import copy
import threading
import uuid
from datetime import timedelta

import pytest
from celery import current_app
from django.db import transaction
from django.utils import timezone

from apps.appraisal import jobs, storing
from apps.appraisal.compute import computing
from apps.appraisal.compute.inputs import read_inputs
from apps.appraisal.compute.results import results_of
from apps.appraisal.models import CandidateAppraisal, ListAppraisal
from apps.appraisal.tasks import recompute_list, sweep
from apps.boats.list_models import CandidateList
from apps.boats.revisions import inputs_changed
from apps.common.processes.broker import Broker
from apps.events.models import Event
from apps.jobs import leases
from tests.together import at_once


def touch(yard) -> int:
    with transaction.atomic():
        return inputs_changed(yard.list.pk)


def appraisal(yard) -> ListAppraisal:
    return ListAppraisal.objects.get(pk=yard.list.pk)


def due(yard) -> bool:
    return jobs.lists_due().filter(pk=yard.list.pk).exists()


@pytest.fixture
def sent(monkeypatch) -> list[uuid.UUID]:
    """The lists that a message was sent for."""
    lists: list[uuid.UUID] = []
    monkeypatch.setattr("apps.appraisal.tasks.send_recompute", lists.append)
    return lists


@pytest.fixture
def rounds(monkeypatch) -> list[object]:
    """The inputs of each round; `.meanwhile` acts during the first."""

    class Rounds(list):
        meanwhile = staticmethod(lambda: None)

    worked = Rounds()
    real = jobs.compute

    def compute(inputs, heartbeat):
        worked.append(inputs)
        if len(worked) == 1:
            worked.meanwhile()
        return real(inputs, heartbeat)

    monkeypatch.setattr(jobs, "compute", compute)
    return worked


def test_it_works(yard, rounds):
    boat = yard.boat("Petrel")
    assert due(yard)
    recompute_list(str(yard.list.pk))
    stored = appraisal(yard)
    yard.list.refresh_from_db()
    assert stored.revision == yard.list.inputs_revision
    assert stored.method == computing.METHOD
    assert stored.computed_at is not None
    assert stored.leased_until is None
    assert CandidateAppraisal.objects.get(candidate=boat).revision == stored.revision
    assert Event.objects.filter(kind="results.ready", thing_id=yard.list.pk).count() == 1
    assert not due(yard)


def test_nothing_to_do_is_not_done(yard, rounds):
    recompute_list(str(yard.list.pk))
    recompute_list(str(yard.list.pk))
    assert len(rounds) == 1


def test_looks_give_way_to_newer_inputs(yard, monkeypatch):
    yard.boat("Petrel")
    looks_begun, real = [], jobs.looks_of

    def looks_of(computed, heartbeat):
        looks_begun.append(computed)
        if len(looks_begun) == 1:
            touch(yard)
        heartbeat()  # between two steps: the first time it finds newer inputs
        return real(computed, lambda: None)

    monkeypatch.setattr(jobs, "looks_of", looks_of)
    recompute_list(str(yard.list.pk))
    yard.list.refresh_from_db()
    stored = appraisal(yard)
    assert len(looks_begun) == 2
    assert stored.revision == stored.looks_revision == yard.list.inputs_revision
    assert (stored.attempts, stored.last_error) == (0, "")


def test_a_message_that_finds_the_lease_taken_returns_at_once(yard, rounds):
    lease = jobs.lease_claim(yard.list.pk)
    assert lease is not None
    assert jobs.lease_claim(yard.list.pk) is None
    assert jobs.list_recompute(list_id=yard.list.pk) == 0
    assert rounds == []
    lease.release()
    assert jobs.list_recompute(list_id=yard.list.pk) == 1


def test_a_burst_becomes_one_more_round(yard, rounds):
    def burst():
        for _ in range(20):
            touch(yard)
            jobs.list_recompute(list_id=yard.list.pk)  # each message finds the lease taken

    rounds.meanwhile = burst
    jobs.list_recompute(list_id=yard.list.pk)
    assert len(rounds) == 2
    assert not due(yard)


def test_a_list_that_never_rests_gives_way_to_others(yard, monkeypatch, sent):
    real = jobs.compute

    def compute(inputs, heartbeat):
        touch(yard)
        return real(inputs, heartbeat)

    monkeypatch.setattr(jobs, "compute", compute)
    recompute_list(str(yard.list.pk))
    assert sent == [yard.list.pk]  # back to the end of the queue
    assert due(yard)


def test_a_dead_worker_loses_the_lease(yard, rounds, sent):
    """What kill -9 leaves behind: a lease that nobody renews and nobody releases."""
    lease = jobs.lease_claim(yard.list.pk)
    assert lease is not None
    sweep()
    assert sent == []
    ListAppraisal.objects.update(leased_until=timezone.now() - timedelta(seconds=1))
    sweep()
    assert sent == [yard.list.pk]
    assert jobs.list_recompute(list_id=yard.list.pk) == 1


def test_a_lease_set_by_a_clock_that_was_wrong_keeps_nobody_from_working(yard, sent):
    """A lease that ends in two hours, which is later than any lease can."""
    jobs.lease_claim(yard.list.pk)
    ListAppraisal.objects.update(leased_until=timezone.now() + timedelta(hours=2))
    sweep()
    assert sent == [yard.list.pk]
    assert jobs.list_recompute(list_id=yard.list.pk) == 1


def test_the_lease_is_renewed_while_the_work_goes_on(yard, settings, monkeypatch):
    settings.APPRAISAL_LEASE = timedelta(seconds=30)
    clock = [0.0]
    monkeypatch.setattr(leases.time, "monotonic", lambda: clock[0])
    lease = jobs.lease_claim(yard.list.pk)
    heartbeat = lease.heartbeats()
    before = appraisal(yard).leased_until
    clock[0] = 9.0
    heartbeat()
    assert appraisal(yard).leased_until == before
    clock[0] = 11.0
    heartbeat()
    assert appraisal(yard).leased_until > before


def test_an_old_holder_releases_nothing(yard):
    old = jobs.lease_claim(yard.list.pk)
    ListAppraisal.objects.update(leased_until=timezone.now() - timedelta(seconds=1))
    new = jobs.lease_claim(yard.list.pk)
    old.release()
    assert appraisal(yard).leased_by == new.holder


def test_an_older_revision_never_overwrites_a_newer_one(yard):
    boat = yard.boat("Petrel")
    jobs.lease_claim(yard.list.pk)

    found = results_of(computing.compute(read_inputs(yard.list.pk)))

    def store(revision: int, currency: str) -> bool:
        results = copy.deepcopy(found)
        results.standing["currency"] = currency
        results.candidates[boat.pk]["rollup"]["currency"] = currency
        return jobs.results_store(
            list_id=yard.list.pk, revision=revision, results=results, seconds=0.1
        )

    assert store(5, "SEK")
    assert not store(4, "NOK")
    assert appraisal(yard).standing["currency"] == "SEK"
    assert CandidateAppraisal.objects.get(candidate=boat).rollup["currency"] == "SEK"
    assert store(6, "DKK")
    assert CandidateAppraisal.objects.get(candidate=boat).revision == 6


def test_a_reader_never_sees_half_a_result(yard, monkeypatch):
    boat = yard.boat("Petrel")
    jobs.list_recompute(list_id=yard.list.pk)
    before = appraisal(yard).revision
    touch(yard)
    monkeypatch.setattr(storing, "event_record", lambda **_: 1 / 0)  # the last thing it does
    jobs.list_recompute(list_id=yard.list.pk)
    assert appraisal(yard).revision == before
    assert CandidateAppraisal.objects.get(candidate=boat).revision == before
    assert "ZeroDivisionError" in appraisal(yard).last_error


@pytest.fixture
def broken(monkeypatch):
    def compute(inputs, heartbeat):
        raise ValueError("the keel is not a number")

    monkeypatch.setattr(jobs, "compute", compute)


def test_a_failure_is_recorded_and_waits(yard, broken, sent):
    assert jobs.list_recompute(list_id=yard.list.pk) == 1
    stored = appraisal(yard)
    assert stored.last_error == "ValueError: the keel is not a number"
    assert stored.attempts == 1
    assert stored.leased_until is None
    assert stored.next_attempt_at > timezone.now()
    sweep()
    assert sent == []


def test_a_list_deleted_meanwhile_is_no_failure(db, caplog):
    jobs._work(leases.Lease(ListAppraisal(pk=uuid.uuid4()), uuid.uuid4(), leases.LEASE))
    assert not caplog.records


def test_each_failure_waits_longer(yard, broken):
    waits = []
    for _ in range(20):
        ListAppraisal.objects.update(next_attempt_at=timezone.now() - timedelta(seconds=1))
        jobs.list_recompute(list_id=yard.list.pk)
        waits.append(appraisal(yard).next_attempt_at - timezone.now())
    assert waits[0] < waits[1] < waits[5]
    assert max(waits) <= timedelta(hours=1)


def test_new_inputs_are_tried_at_once(yard, broken):
    jobs.list_recompute(list_id=yard.list.pk)
    assert not due(yard)
    touch(yard)
    assert due(yard)


def test_success_forgets_the_failures(yard, monkeypatch, rounds):
    with monkeypatch.context() as broken:
        broken.setattr(jobs, "compute", lambda *_, **__: 1 / 0)
        jobs.list_recompute(list_id=yard.list.pk)
    ListAppraisal.objects.update(next_attempt_at=timezone.now() - timedelta(seconds=1))
    jobs.list_recompute(list_id=yard.list.pk)
    assert (appraisal(yard).attempts, appraisal(yard).last_error) == (0, "")


def test_a_list_that_fails_never_blocks_others(yard, cast, sent, monkeypatch):
    other = type(yard).of(cast.group, cast.ola.person)
    real = jobs.compute

    def compute(inputs, heartbeat):
        if inputs.list_id == yard.list.pk:
            raise ValueError
        return real(inputs, heartbeat)

    monkeypatch.setattr(jobs, "compute", compute)
    for list_id in jobs.due_and_free():
        recompute_list(str(list_id))
    assert jobs.due_and_free() == []
    assert appraisal(other).revision > 0


def test_a_list_deleted_meanwhile_leaves_no_trace(yard, rounds):
    rounds.meanwhile = lambda: CandidateList.objects.filter(pk=yard.list.pk).delete()
    jobs.list_recompute(list_id=yard.list.pk)
    assert not ListAppraisal.objects.exists()


def test_a_boat_deleted_meanwhile_is_left_out(yard, rounds):
    yard.boat("Petrel")
    gone = yard.boat("Fulmar")
    rounds.meanwhile = lambda: gone.delete()
    jobs.list_recompute(list_id=yard.list.pk)
    assert CandidateAppraisal.objects.count() == 1


def test_another_method_is_worked_out_anew(yard, rounds):
    jobs.list_recompute(list_id=yard.list.pk)
    ListAppraisal.objects.update(method="an older one")
    assert due(yard)


def test_another_edition_of_the_catalogue_too(yard, rounds):
    jobs.list_recompute(list_id=yard.list.pk)
    ListAppraisal.objects.update(edition=0)
    assert due(yard)


def test_the_sweep_takes_constant_queries(yard, cast, sent, django_assert_num_queries):
    with django_assert_num_queries(1):
        sweep()
    for _ in range(5):
        type(yard).of(cast.group, cast.ola.person)
    with django_assert_num_queries(1):
        sweep()
    assert len(sent) == 7


# --- Sending -------------------------------------------------------------------------------------


@pytest.fixture
def broker(monkeypatch):
    """A separate broker, so that its silence does not affect other tests."""
    fresh = Broker()
    monkeypatch.setattr("apps.appraisal.messages.broker", fresh)
    return fresh


def test_a_change_sends_a_message_after_the_commit(
    yard, broker, monkeypatch, django_capture_on_commit_callbacks
):
    sent = []
    monkeypatch.setattr(broker, "send", lambda task, *args: sent.append((task, *args)))
    with django_capture_on_commit_callbacks(execute=True):
        touch(yard)
        assert sent == []
    assert sent == [("apps.appraisal.tasks.recompute_list", str(yard.list.pk))]


def test_a_dead_broker_fails_nothing_and_is_left_alone(
    yard, broker, monkeypatch, django_capture_on_commit_callbacks
):
    tried = []

    def send_task(*_, **options):
        tried.append(options)
        raise OSError("connection refused")

    monkeypatch.setattr(current_app, "send_task", send_task)
    with django_capture_on_commit_callbacks(execute=True):
        touch(yard)
        touch(yard)
    assert len(tried) == 1  # the second one did not wait for it again
    assert tried[0]["retry"] is False
    broker._silent_until = 0.0
    assert not broker.send("x")
    assert len(tried) == 2


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("several_writers")
def test_of_many_workers_one_gets_the_lease(cast):
    from tests.appraisal.building import Yard

    yard = Yard.of(cast.group, cast.ola.person)
    start = threading.Barrier(4)

    def claim():
        start.wait()
        return jobs.lease_claim(yard.list.pk)

    leases = at_once(*[claim] * 4)
    assert sum(lease is not None for lease in leases) == 1
