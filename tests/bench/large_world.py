"""A large world in the database: groups with a list of 20 boats each, and 1,000 findings.

Run by name: python -m tests.bench.large_world [GROUPS], with DATABASE_URL naming a database that
holds the catalogue and nothing that matters. 5,000 groups, unless told otherwise, have 100,000
candidates and 5 million findings, which take about 1.2 GB on PostgreSQL. `bench_reads` measures
beside such a world.

People, lists and visits are made in bulk, findings by one statement a batch of groups. Results are
recorded as up to date, so that no worker begins to compute them.
"""

import os
import sys
import time
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Any

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "server.settings")
django.setup()

from django.db import connection, transaction  # noqa: E402
from django.utils import timezone  # noqa: E402

from apps.accounts.models import Person  # noqa: E402
from apps.appraisal.compute.computing import METHOD  # noqa: E402
from apps.appraisal.models import ListAppraisal  # noqa: E402
from apps.boats.list_models import CandidateList  # noqa: E402
from apps.boats.models import Candidate, Valuation  # noqa: E402
from apps.catalogue.models import CheckpointVersion, Edition  # noqa: E402
from apps.groups.models import Group, Membership  # noqa: E402
from apps.viewings.models import Finding, Submission, Viewing  # noqa: E402

GROUPS, BATCH, BOATS, BUYERS, CHECKPOINTS = 5_000, 100, 20, 3, 25


def large_world(groups: int, prefix: str = "Large") -> None:
    """Add so many groups. The tables' statistics are brought up to date afterwards."""
    for first in range(0, groups, BATCH):
        with transaction.atomic():
            _batch([f"{prefix} {n}" for n in range(first, min(first + BATCH, groups))])
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _batch(names: Sequence[str]) -> None:
    now, edition = timezone.now(), Edition.objects.order_by("-number").first()
    groups = Group.objects.bulk_create(Group(name=name) for name in names)
    people = Person.objects.bulk_create(
        Person(email=f"{n}.{group.pk}@example.org", name=f"Person {n}", password="!")
        for group in groups
        for n in range(BUYERS)
    )
    buyers = dict(zip(groups, _in_parts(people, BUYERS), strict=True))
    Membership.objects.bulk_create(
        Membership(group=group, person=person, role="buyer", buys=True)
        for group, persons in buyers.items()
        for person in persons
    )
    lists = CandidateList.objects.bulk_create(
        CandidateList(group=group, name="Spring", currency="USD", budget=Decimal(60_000))
        for group in groups
    )
    ListAppraisal.objects.bulk_create(
        ListAppraisal(
            list=one,
            **{"revision": one.inputs_revision, "looks_revision": one.inputs_revision},
            **{"method": METHOD, "looks_method": METHOD, "computed_at": now},
            **{"edition": edition.number, "looks_edition": edition.number},
        )
        for one in lists
    )
    candidates = Candidate.objects.bulk_create(
        Candidate(list=one, name=f"Boat {n}", added_by=buyers[one.group][0])
        for one in lists
        for n in range(BOATS)
    )
    Valuation.objects.bulk_create(
        Valuation(candidate=one, person=buyers[one.list.group][0], amount=Decimal(40_000))
        for one in candidates
    )
    viewings = Viewing.objects.bulk_create(
        Viewing(candidate=one, starts_at=now, added_by=one.added_by, state="made")
        for one in candidates
    )
    Submission.objects.bulk_create(
        Submission(
            viewing=one, author=author, state="submitted", submitted_at=now, made_from=names[0]
        )
        for one in viewings
        for author in buyers[one.candidate.list.group][:2]
    )
    _findings(names[0])


def _findings(made_from: str) -> None:
    """One finding on each of some checkpoints, for each submission of this batch."""
    versions = CheckpointVersion.objects.order_by("checkpoint", "-pk")
    latest = {one.checkpoint_id: one.pk for one in reversed(versions)}
    chosen = [*latest.values()][:CHECKPOINTS]
    tags = "CAST('[]' AS jsonb)" if connection.vendor == "postgresql" else "'[]'"
    finding, submission, version = (
        connection.ops.quote_name(model._meta.db_table)
        for model in (Finding, Submission, CheckpointVersion)
    )
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO {finding} (submission_id, checkpoint_id, checkpoint_version_id, kind,"
            " level, reason, sureness, measured_unit, note, tags)"
            f" SELECT s.id, v.checkpoint_id, v.id, 'looked', v.id %% 4, '', 'sure', '', '', {tags}"
            f" FROM {submission} s CROSS JOIN {version} v"
            f" WHERE s.made_from = %s AND v.id IN ({', '.join(['%s'] * len(chosen))})",
            [made_from, *chosen],
        )


def _in_parts(rows: Sequence[Any], size: int) -> Iterator[Sequence[Any]]:
    for first in range(0, len(rows), size):
        yield rows[first : first + size]


def main() -> None:
    groups = int(sys.argv[1]) if len(sys.argv) > 1 else GROUPS
    started = time.monotonic()
    large_world(groups, prefix=f"Large {timezone.now():%H%M%S}")
    print(
        f"{groups:,} groups, {groups * BOATS:,} candidates, "
        f"{groups * BOATS * 2 * CHECKPOINTS:,} findings in {time.monotonic() - started:.0f} s"
    )


if __name__ == "__main__":
    main()
