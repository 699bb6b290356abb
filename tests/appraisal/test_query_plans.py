"""The queries of the hottest requests find their rows by an index, on PostgreSQL.

A small table is read whole, whatever its indexes. Here the planner is told to avoid that: a table
is then still read whole only if no index can be used.
"""

import json
import re

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from apps.appraisal import jobs
from tests.appraisal.conftest import Spring
from tests.conftest import Cast

pytestmark = pytest.mark.django_db

# Small at any size of the service: the catalogue, and what there is once for each group or club.
SMALL = re.compile(r"^(catalogue_|groups_club|django_)")
LEAST_QUERIES = 20


@pytest.fixture(autouse=True)
def _postgresql_only():
    if connection.vendor != "postgresql":
        pytest.skip("the plans are PostgreSQL's")


def requests(spring: Spring, cast: Cast) -> None:
    """What phones and pages ask most, and the work that follows a finding."""
    list_path, boat = spring.path, f"/candidates/{spring.petrel.pk}"
    for what in ("board", "next-looks", "order", "raters", "candidates", "valuations"):
        cast.ben.get(f"{list_path}/{what}")
        cast.ivy.get(f"{list_path}/{what}")
    for what in (
        "",
        "/rollup",
        "/consensus",
        "/reasons",
        "/explanation",
        "/viewings",
        "/checklist",
    ):
        cast.ben.get(f"{boat}{what}")
    cast.ben.get("/groups")
    cast.ben.get("/notifications")
    cast.ben.get(f"/groups/{cast.group.pk}/changes")
    viewing = cast.ben.post(
        f"{boat}/viewings", {"starts_at": "2026-05-02T10:00:00Z", "state": "made"}
    ).json()
    finding = {"checkpoint": "anodes", "kind": "looked", "level": 2}
    sent = cast.ben.post(
        f"/viewings/{viewing['id']}/submissions", {"state": "submitted", "findings": [finding]}
    )
    assert sent.status_code == 201, sent.content
    jobs.lease_claim(spring.yard.list.pk)


def selects(captured: CaptureQueriesContext) -> list[str]:
    return list(
        dict.fromkeys(
            query["sql"] for query in captured.captured_queries if query["sql"].startswith("SELECT")
        )
    )


def read_whole(plan: dict) -> list[str]:
    """The tables that a plan reads whole."""
    here = [plan["Relation Name"]] if plan["Node Type"] == "Seq Scan" else []
    return [*here, *(name for part in plan.get("Plans", ()) for name in read_whole(part))]


def test_no_table_that_grows_is_read_whole(spring, cast):
    with CaptureQueriesContext(connection) as captured:
        requests(spring, cast)
    asked = selects(captured)
    assert len(asked) >= LEAST_QUERIES
    found = {}
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET LOCAL enable_seqscan = off")
        for sql in asked:
            cursor.execute(f"EXPLAIN (FORMAT JSON) {sql.replace('%', '%%')}", [])
            (plans,) = cursor.fetchone()
            plan = json.loads(plans) if isinstance(plans, str) else plans
            whole = [name for name in read_whole(plan[0]["Plan"]) if not SMALL.match(name)]
            if whole:
                found[sql] = whole
    assert not found, "\n".join(f"{tables}: {sql}" for sql, tables in found.items())
