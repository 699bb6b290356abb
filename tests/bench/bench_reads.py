"""A board and next looks as they are read, compared with a view written by hand.

Run by name: python -m tests.bench.bench_reads [GROUPS], perhaps with DATABASE_URL. Lists of 5, 25
and 40 boats, alone and, with GROUPS, beside so many groups (`large_world`). Wanted: at least 0.6
of the requests of the view by hand, and an unchanged answer (304) costs no more than a third of
one that is composed anew from its stored results.

Baseline, timed in turns with it in the same run: a view by hand behind the same middleware, which
runs the same SQL and sends the same bytes, and does nothing else.
"""

import sys

from tests.bench.apart import alternately, database_apart  # isort: skip

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.test.utils import CaptureQueriesContext, override_settings
from django.urls import include, path

from apps.appraisal.jobs import list_recompute
from apps.appraisal.models import ReadyAnswer
from apps.groups.models import Group, Membership
from tests.appraisal.building import Yard, fill, load_catalogue
from tests.bench.large_world import large_world
from tests.conftest import Speaker, speakers

SIZES, WANTED, WANTED_UNCHANGED, TIMES = (5, 25, 40), 0.6, 1 / 3, 200


class ByHand:
    """The view by hand: statements and an answer, both taken from a request to the service."""

    statements: tuple[str, ...] = ()
    body = b""

    @classmethod
    def view(cls, request: HttpRequest) -> HttpResponse:
        with connection.cursor() as cursor:
            for statement in cls.statements:
                cursor.execute(statement)
                cursor.fetchall()
        return HttpResponse(cls.body, content_type="application/json")


urlpatterns = [path("api/v1/by-hand", ByHand.view), path("", include("server.urls"))]


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
    with CaptureQueriesContext(connection) as captured:
        answer = reader.get(address)
    ByHand.statements = tuple(query["sql"] for query in captured.captured_queries)
    ByHand.body, etag = answer.content, answer["ETag"]
    ours, by_hand, unchanged = alternately(
        TIMES,
        lambda: reader.get(address),
        lambda: reader.get("/by-hand"),
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
        f"{title:24} {len(ByHand.statements)} queries, {len(answer.content) / 1e3:4.0f} kB: "
        f"{ours * 1e3:5.2f} ms; by hand {by_hand * 1e3:5.2f} ms, so {share:.2f} of its requests; "
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
