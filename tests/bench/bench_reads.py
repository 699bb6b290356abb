"""A board and next looks as they are read, compared with a view written by hand.

Run by name: python -m tests.bench.bench_reads [GROUPS], perhaps with DATABASE_URL. Lists of 5, 25
and 40 boats, alone and, with GROUPS, beside so many groups (`large_world`). Wanted: at least 0.6
of the requests of the view by hand, and an unchanged answer (304) costs no more than a third of
one that is composed anew from its stored results.

Baseline, timed in turns with it in the same run: a view by hand behind the same middleware, which
asks for the same permission (the framework's authentication by token and its check of who is
signed in), runs the same SQL, whose conditions include what the reader may see, and sends the same
bytes. Beside it, a bare view that only runs the SQL and sends the bytes, and lets anybody in.
"""

import sys
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from tests.bench.apart import alternately, database_apart  # isort: skip

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.test.utils import override_settings
from django.urls import include, path
from rest_framework.request import Request
from rest_framework.views import APIView

from apps.appraisal.jobs import list_recompute
from apps.appraisal.models import ReadyAnswer
from apps.groups.models import Group, Membership
from tests.appraisal.building import Yard, fill, load_catalogue
from tests.bench.large_world import large_world
from tests.conftest import Speaker, speakers

SIZES, WANTED, WANTED_UNCHANGED, TIMES = (5, 25, 40), 0.6, 1 / 3, 200


Statement = tuple[str, Any]


@dataclass
class Recorded:
    """Statements and an answer, both taken from a request to the service."""

    statements: list[Statement] = field(default_factory=list)
    body: bytes = b""

    def execute(self, run: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        self.statements.append((sql, params))
        return run(sql, params, many, context)

    def answer(self, statements: Sequence[Statement]) -> HttpResponse:
        with connection.cursor() as cursor:
            for sql, params in statements:
                cursor.execute(sql, params)
                cursor.fetchall()
        return HttpResponse(self.body, content_type="application/json")


recorded = Recorded()


class ByHand(APIView):
    """The view by hand. Its authentication runs the first statement, which asks for the token."""

    def get(self, request: Request) -> HttpResponse:
        return recorded.answer(recorded.statements[1:])


def bare(request: HttpRequest) -> HttpResponse:
    return recorded.answer(recorded.statements)


urlpatterns = [
    path("api/v1/by-hand", ByHand.as_view()),
    path("api/v1/bare", bare),
    path("", include("server.urls")),
]


def list_of(boats: int) -> tuple[str, Speaker]:
    """The id of a computed list, and one of its buyers, who gave valuations."""
    organiser, buyer, other = speakers(*(f"{name} of {boats}" for name in ("Ola", "Ben", "Bea")))
    group = Group.objects.create(name=f"Group of {boats}")
    Membership.objects.bulk_create(
        Membership(group=group, person=one.person, role="organiser", buys=True)
        for one in (organiser, buyer, other)
    )
    yard = Yard.of(group, organiser.person)
    fill(yard, [one.person for one in (buyer, other, organiser)], boats)
    list_recompute(list_id=yard.list.pk)
    return str(yard.list.pk), buyer


def measured(title: str, address: str, reader: Speaker) -> bool:
    """Print the ratios of one answer; return whether they are as wanted."""
    reader.get(address)
    recorded.statements = []
    with connection.execute_wrapper(recorded.execute):
        answer = reader.get(address)
    recorded.body, etag = answer.content, answer["ETag"]
    ours, by_hand, without, unchanged = alternately(
        TIMES,
        lambda: reader.get(address),
        lambda: reader.get("/by-hand"),
        lambda: reader.get("/bare"),
        lambda: reader.get(address, If_None_Match=etag),
    )
    kept = ReadyAnswer.objects.all()
    was = dict(kept.values_list("pk", "sources"))
    kept.update(sources="")
    (composed,) = alternately(TIMES // 10, lambda: reader.get(address))
    for pk, sources in was.items():
        kept.filter(pk=pk).update(sources=sources)
    share, of_composed = by_hand / ours, unchanged / composed
    print(
        f"{title:16} {len(recorded.statements)} queries, {len(answer.content) / 1e3:4.0f} kB: "
        f"{ours * 1e3:5.2f} ms; by hand {by_hand * 1e3:5.2f} ms, so {share:.2f} of its requests; "
        f"bare {without * 1e3:5.2f} ms ({without / ours:.2f}); "
        f"304 {unchanged * 1e3:5.2f} ms, {of_composed:.2f} of composing anew "
        f"({composed * 1e3:.1f} ms)"
    )
    return share >= WANTED and of_composed <= WANTED_UNCHANGED


def main() -> int:
    groups = int(sys.argv[1]) if len(sys.argv) > 1 else 0
    met: list[bool] = []
    with database_apart(), override_settings(ROOT_URLCONF=__name__):
        load_catalogue()
        lists = {boats: list_of(boats) for boats in SIZES}

        def measure(world: str) -> None:
            print(world)
            for boats, (list_id, reader) in lists.items():
                for what in ("board", "next-looks"):
                    met.append(measured(f"{what} of {boats}", f"/lists/{list_id}/{what}", reader))

        measure("small world")
        if groups:
            large_world(groups)
            measure(f"beside {groups:,} groups")
    print(
        f"wanted: {WANTED} of the requests by hand, 304 at most a third: "
        f"{'met' if all(met) else 'NOT met'}"
    )
    return int(not all(met))


if __name__ == "__main__":
    sys.exit(main())
