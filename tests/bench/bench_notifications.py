"""The time to make notifications from a group's events, compared with writing the events.

Run by name: python -m tests.bench.bench_notifications, perhaps with DATABASE_URL. One group of 12
people and 10 boats has 400 changes; 300 other groups are quiet. Wanted: the notifications take no
longer than writing the changes, and a quiet group costs the sweep's query some microseconds at
most.
"""

import os
import time
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "server.settings")
django.setup()

from django.db import connection, transaction  # noqa: E402
from django.test.utils import (  # noqa: E402
    CaptureQueriesContext,
    setup_databases,
    setup_test_environment,
    teardown_databases,
)
from django.utils import timezone  # noqa: E402

from apps.accounts.models import Person  # noqa: E402
from apps.boats.list_services import list_create  # noqa: E402
from apps.boats.services import candidate_create, price_add, stage_change  # noqa: E402
from apps.events.models import EventSequence  # noqa: E402
from apps.events.services import event_record  # noqa: E402
from apps.groups.models import Group, Membership  # noqa: E402
from apps.notifications.jobs import group_notify, groups_behind  # noqa: E402
from apps.notifications.models import EventCursor, Inbox, Notification  # noqa: E402

PEOPLE, BOATS, CHANGES, QUIET = 12, 10, 400, 300
STAGES = ("viewing", "shortlisted")


def seconds(work: Callable[[], object]) -> float:
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def quiet_groups() -> None:
    groups = Group.objects.bulk_create(Group(name=f"Quiet {n}") for n in range(QUIET))
    EventSequence.objects.bulk_create(EventSequence(group=one.pk, last=7) for one in groups)
    later = timezone.now() + timedelta(days=1)
    EventCursor.objects.bulk_create(
        EventCursor(group=one, number=7, due_at=later) for one in groups
    )


def main() -> None:
    group = Group.objects.create(name="Tern")
    people = [
        Person.objects.create_user(f"p{n}@example.org", name=f"Person {n}") for n in range(PEOPLE)
    ]
    for n, person in enumerate(people):
        role = "organiser" if n == 0 else "buyer"
        Membership.objects.create(group=group, person=person, role=role)
        Inbox.objects.create(id=person.pk, person=person, confirmed_email=person.email)
    ada = people[0]
    brief = {"currency": "USD", "budget": Decimal(60_000)}
    spring = list_create(group_id=group.pk, by=ada, name="Spring", brief=brief)
    boats = [
        candidate_create(candidate_list=spring, by=ada, facts={"name": f"Boat {n}"})
        for n in range(BOATS)
    ]
    group_notify(group_id=group.pk)
    Notification.objects.update(read_at=timezone.now())

    def write() -> None:
        for n in range(CHANGES // 2):
            boat, by = boats[n % BOATS], people[n % PEOPLE]
            price_add(candidate=boat, by=by, amount=Decimal(20_000 + n), currency="USD")
            stage_change(candidate=boat, by=by, stage=STAGES[(n // BOATS) % 2])

    def sweep() -> None:
        for _ in range(20):
            list(groups_behind().values_list("group", flat=True))

    alone = seconds(sweep) / 20
    written = seconds(write)
    with CaptureQueriesContext(connection) as captured:
        told = seconds(lambda: group_notify(group_id=group.pk))
    unread = Notification.objects.filter(read_at=None, settled_at=None).count()
    quiet_groups()
    among = seconds(sweep) / 20
    with transaction.atomic():
        event_record(group_id=group.pk, kind="want.added", thing="want", thing_id=group.pk)
    one = seconds(lambda: group_notify(group_id=group.pk))
    print(f"{connection.vendor}: {CHANGES} changes in {written:.2f} s of writing")
    print(
        f"told to {PEOPLE} people in {told:.2f} s ({told / written:.2f} of writing, "
        f"{1000 * told / CHANGES:.2f} ms a change), {len(captured)} queries, {unread} notifications"
    )
    print(f"one event more: {1000 * one:.1f} ms")
    print(
        f"the sweep's question: {1000 * alone:.2f} ms, {1000 * among:.2f} ms among {QUIET} quiet "
        f"groups"
    )


if __name__ == "__main__":
    setup_test_environment()
    kept = setup_databases(verbosity=0, interactive=False)
    try:
        main()
    finally:
        teardown_databases(kept, verbosity=0)
