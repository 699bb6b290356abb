"""The memory of a process that answers requests and recomputes, again and again.

Run by name: python -m tests.bench.bench_memory [REQUESTS] [RECOMPUTES] (5,000 and 1,000). Reads of
several kinds on a list of 5 boats, then recomputes of it.
Wanted: after a fifth of each, memory grows by less than a twentieth until the end.

The baseline is the same process after that fifth: what is loaded on first use is loaded then.
"""

import gc
import itertools
import sys
from collections.abc import Callable

from tests.bench.apart import database_apart  # isort: skip

from apps.appraisal.jobs import list_recompute
from apps.boats.list_models import CandidateList
from apps.groups.models import Group, Membership
from tests.appraisal.building import Yard, fill, load_catalogue
from tests.conftest import Speaker, speakers

WANTED, BOATS, PARTS = 1.05, 5, 5
READS = ("", "/board", "/next-looks", "/candidates", "/board.csv", "/ballots")


def resident() -> float:
    """Memory of this process, MB."""
    with open("/proc/self/status") as status:
        line = next(line for line in status if line.startswith("VmRSS"))
    return float(line.split()[1]) / 1024


def grown(title: str, times: int, work: Callable[[], object]) -> float:
    """Do the work so many times; print the memory after each part, return its growth."""
    sizes = []
    for _ in range(PARTS):
        for _ in range(times // PARTS):
            work()
        gc.collect()
        sizes.append(resident())
    print(f"{title}: {times:,} times, MB after each part: {', '.join(f'{s:.0f}' for s in sizes)}")
    return sizes[-1] / sizes[0]


def yard_of(organiser: Speaker, *others: Speaker) -> Yard:
    group = Group.objects.create(name="Group")
    Membership.objects.bulk_create(
        Membership(group=group, person=one.person, role="organiser", buys=True)
        for one in (organiser, *others)
    )
    yard = Yard.of(group, organiser.person)
    fill(yard, [one.person for one in (organiser, *others)], BOATS)
    return yard


def main() -> int:
    requests, recomputes = (int(given) for given in (sys.argv[1:3] or ("5000", "1000")))
    print(f"after start: {resident():.0f} MB")
    with database_apart():
        load_catalogue()
        organiser, *others = speakers("Ola", "Ben", "Bea")
        yard = yard_of(organiser, *others)
        list_id = yard.list.pk
        list_recompute(list_id=list_id)
        print(f"after a first recompute: {resident():.0f} MB")
        turns = itertools.cycle(READS)

        def ask() -> None:
            answer = organiser.get(f"/lists/{list_id}{next(turns)}")
            if answer.status_code >= 400:
                raise RuntimeError(f"{answer.status_code} {answer.content!r}")

        def recompute() -> None:
            lists = CandidateList.objects.filter(pk=list_id)
            revision = lists.values_list("inputs_revision", flat=True).get()
            lists.update(inputs_revision=revision + 1)
            if list_recompute(list_id=list_id) != 1:
                raise RuntimeError("the list was not recomputed")

        ratios = [grown("requests", requests, ask), grown("recomputes", recomputes, recompute)]
    met = max(ratios) < WANTED
    print(f"growth {', '.join(f'{ratio:.3f}' for ratio in ratios)}; wanted below {WANTED}: {met}")
    return int(not met)


if __name__ == "__main__":
    sys.exit(main())
