"""Figures of the background work, read from the database and from Redis when they are asked for."""

from collections.abc import Iterator
from functools import partial

from django.db.models import Count, Q
from django.utils import timezone
from prometheus_client import CollectorRegistry, Gauge

from apps.appraisal.jobs import boards_behind, lists_due, oldest_change_not_in_results
from apps.events.models import Delivery
from apps.jobs import life
from apps.jobs.leases import free, kinds
from apps.notifications.jobs import groups_behind
from apps.notifications.models import DigestEmail
from server.celery import app
from server.queues import length


def work_figures() -> CollectorRegistry:
    """All gauges. A constant number of queries, whatever the number of lists and groups."""
    into = CollectorRegistry()
    gauge = partial(Gauge, registry=into)
    jobs = gauge("hardstand_jobs", "Unfinished jobs", ["kind", "state"])
    for kind, state, count in job_counts():
        jobs.labels(kind, state).set(count)
    gauge("hardstand_lists_behind", "Lists whose board is not up to date").set(
        boards_behind().count()
    )
    gauge("hardstand_lists_due", "Lists that a worker may work on now, or does").set(
        lists_due().count()
    )
    changed_at = oldest_change_not_in_results()
    gauge(
        "hardstand_oldest_list_seconds",
        "Since the last change of the list that waits longest for a worker; 0: none waits",
    ).set((timezone.now() - changed_at).total_seconds() if changed_at else 0)
    gauge("hardstand_outbox_groups", "Groups with events that nobody was notified of yet").set(
        groups_behind().count()
    )
    for name, model in (("hardstand_webhook_messages", Delivery), ("hardstand_mails", DigestEmail)):
        states = gauge(name, f"{model._meta.verbose_name_plural} by state", ["state"])
        for state, count in by_state(model):
            states.labels(state).set(count)
    redis_figures(into)
    return into


def redis_figures(into: CollectorRegistry) -> None:
    """Queues, signs of life and tasks; without them, and with 0 for `up`, if Redis is away."""
    gauge = partial(Gauge, registry=into)
    up = gauge("hardstand_broker_up", "Whether Redis answers")
    try:
        lengths = {queue: length(queue) for queue in life.QUEUES}
        silences = {part: life.silent_for(part) for part in life.PARTS}
        app.loader.import_default_modules()  # or the web server would not know all tasks
        ended = life.tasks_ended(name for name in app.tasks if name.startswith("apps."))
    except Exception:  # of the cache's or the broker's library
        up.set(0)
        return
    up.set(1)
    messages = gauge("hardstand_messages", "Messages that no worker has taken", ["queue"])
    for queue, waiting in lengths.items():
        messages.labels(queue).set(waiting)
    silent = gauge("hardstand_silent_seconds", "Since the last sign of life", ["part"])
    for part, since in silences.items():
        silent.labels(part).set(since)
    done = gauge("hardstand_tasks_done", "Tasks that workers ended, ever more", ["task", "state"])
    for (task, state), count in ended.items():
        done.labels(task, state).set(count)


def job_counts() -> Iterator[tuple[str, str, int]]:
    """One query for each kind of job."""
    for kind in kinds():
        held = ~Q(leased_by=None)
        counts = kind._base_manager.filter(kind.UNFINISHED).aggregate(
            failing=Count("pk", filter=~Q(failing_since=None)),
            abandoned=Count("pk", filter=held & free()),
            working=Count("pk", filter=held & ~free()),
        )
        for state, count in counts.items():
            yield kind._meta.label_lower, state, count


def by_state(model: type[Delivery] | type[DigestEmail]) -> Iterator[tuple[str, int]]:
    counts = dict(model._base_manager.values_list("state").annotate(Count("pk")))
    for state in model.State.values:
        yield state, counts.get(state, 0)
