"""The sweeps, the figures to watch, the feed and notifications beside a large world.

Run by name, with DATABASE_URL of a database that `large_world` filled: python -m
tests.bench.bench_sweeps. It adds 200 events to each group and tells nobody anything; all of it is
undone in the end. For each: the database's time for its reads, and tables of more than
10,000 rows that one of them reads whole. Wanted: at most 0.2 s for a sweep, of the 15 s between
two; 0.05 s for what is done for one group or person; and no large table read whole.
"""

import json
import os
import sys
from collections.abc import Callable
from functools import partial
from typing import Any
from unittest.mock import patch

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "server.settings")
django.setup()

from django.core.cache import cache  # noqa: E402
from django.db import connection, transaction  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402

from apps.accounts.models import Person  # noqa: E402
from apps.appraisal.tasks import sweep  # noqa: E402
from apps.archives.tasks import sweep_archives  # noqa: E402
from apps.events.models import Event  # noqa: E402
from apps.events.tasks import sweep_deliveries  # noqa: E402
from apps.groups.changes import changes_for  # noqa: E402
from apps.groups.models import Group, Membership  # noqa: E402
from apps.notifications.jobs import group_notify  # noqa: E402
from apps.notifications.tasks import send_digests, sweep_notifications  # noqa: E402
from apps.planning.tasks import sweep_trips  # noqa: E402
from apps.viewings.tasks import sweep_media  # noqa: E402
from server.work_figures import job_counts, work_figures  # noqa: E402

EVENTS, BEHIND, TIMES, LARGE = 200, 20, 3, 10_000
SWEEP_WITHIN_MS, ONE_WITHIN_MS = 200, 50

SWEEPS: dict[str, Callable[[], object]] = {
    "sweep of stale lists": sweep,
    "sweep of notifications": sweep_notifications,
    "digests": send_digests,
    "sweep of photos": sweep_media,
    "sweep of archives": sweep_archives,
    "sweep of trips": sweep_trips,
    "sweep of webhooks": sweep_deliveries,
    "counts of jobs": lambda: list(job_counts()),
    "all figures to watch": work_figures,
}


def events_added() -> None:
    """Events of every group, of which all but the last groups' were dealt with."""
    with connection.cursor() as cursor:
        cursor.execute(
            'INSERT INTO events_event (id, "group", number, kind, thing, thing_id, thing_version,'
            " deleted, facts, created_at) SELECT gen_random_uuid(), g.id, n, 'candidate.changed',"
            " 'candidate', gen_random_uuid(), 1, false, '{}', now()"
            " FROM groups_group g CROSS JOIN generate_series(1, %s) n",
            [EVENTS],
        )
        cursor.execute(
            'INSERT INTO events_eventsequence ("group", last, pruned, void_after, void_until)'
            " SELECT id, %s, 0, 0, 0 FROM groups_group",
            [EVENTS],
        )
        cursor.execute(
            "INSERT INTO notifications_eventcursor (group_id, number, attempts, last_error)"
            " SELECT id, %s, 0, '' FROM groups_group ORDER BY id LIMIT %s",
            [EVENTS, Group.objects.count() - BEHIND],
        )
        cursor.execute("ANALYZE")


def planned(captured: CaptureQueriesContext) -> tuple[float, set[str]]:
    """The database's milliseconds for the reads, and the large tables that one of them read whole.

    The database itself says how long: other work on the machine hardly changes that.
    """
    took, whole = 0.0, set()
    with connection.cursor() as cursor:
        cursor.execute("SELECT relname FROM pg_class WHERE reltuples > %s", [LARGE])
        large = {name for (name,) in cursor.fetchall()}
        for sql in (query["sql"] for query in captured.captured_queries):
            if sql.startswith("SELECT"):
                asked = f"EXPLAIN (ANALYZE, FORMAT JSON) {sql.replace('%', '%%')}"
                plans = [one_plan(cursor, asked) for _ in range(TIMES)]
                took += min(plan["Execution Time"] for plan in plans)
                whole |= _whole(plans[0]["Plan"]) & large
    return took, whole


def one_plan(cursor: Any, asked: str) -> dict:
    cursor.execute(asked, [])
    (plans,) = cursor.fetchone()
    return (json.loads(plans) if isinstance(plans, str) else plans)[0]


def _whole(plan: dict) -> set[str]:
    here = {plan["Relation Name"]} if plan["Node Type"] == "Seq Scan" else set()
    return here.union(*(_whole(part) for part in plan.get("Plans", ())))


def measured(title: str, work: Callable[[], object], within_ms: float) -> bool:
    with CaptureQueriesContext(connection) as captured:
        work()
    took, whole = planned(captured)
    read = ", ".join(sorted(whole)) or "no large table"
    print(f"{title:28} {took:7.1f} ms, {len(captured):3} queries, {read} read whole")
    return took <= within_ms and not whole


def main() -> int:
    cache.clear()
    with transaction.atomic(), patch("apps.common.processes.broker.broker.send"):
        events_added()
        met = [measured(title, work, SWEEP_WITHIN_MS) for title, work in SWEEPS.items()]
        ahead, behind = Group.objects.order_by("pk").first(), Group.objects.order_by("pk").last()
        assert ahead
        assert behind
        notify = partial(group_notify, group_id=behind.pk)
        met.append(measured(f"notifications of {EVENTS} events", notify, ONE_WITHIN_MS))
        member = Membership.objects.filter(group=ahead).first()
        assert member
        person = Person.objects.get(pk=member.person_id)
        since = {ahead.pk: EVENTS - 100}
        met.append(
            measured("100 changes of the feed", lambda: feed(person, since), ONE_WITHIN_MS),
        )
        print(f"{Event.objects.count():,} events")
        transaction.set_rollback(True)
    wanted = f"sweeps within {SWEEP_WITHIN_MS} ms of the database, one group's work {ONE_WITHIN_MS}"
    print(f"wanted: {wanted}: {'met' if all(met) else 'NOT met'}")
    return int(not all(met))


def feed(person: Person, since: dict) -> None:
    page = changes_for(person, since, limit=100)
    assert len(page.events) == 100


if __name__ == "__main__":
    sys.exit(main())
