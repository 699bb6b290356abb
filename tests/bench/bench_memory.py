"""The memory of a process that answers requests and recomputes, again and again.

Run by name: python -m tests.bench.bench_memory [REQUESTS] [RECOMPUTES] (5,000 and 1,000), with
DATABASE_URL: SQLite would keep what is posted in the memory of this process. Reads, pages, posted
findings and photos in turns; then recomputes of a list of 5 boats, each with a photo to prepare.
Wanted: after a fifth of each, memory grows by less than a twentieth until the end.

The baseline is the same process after that fifth: what is loaded on first use is loaded then.
Findings are posted about another list, so that each recompute has the same work.
"""

import gc
import itertools
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from tests.bench.apart import database_apart  # isort: skip

from django.conf import settings
from django.test.utils import override_settings
from django.utils import timezone

from apps.appraisal.jobs import list_recompute
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.common.processes.broker import broker
from apps.groups.models import Group, Membership
from apps.viewings.media.preparing import photo_prepare
from apps.viewings.models import Viewing
from tests.appraisal.building import Yard, fill, load_catalogue
from tests.conftest import Speaker, speakers
from tests.pages.browser import Browser
from tests.viewings.media import picture

WANTED, BOATS, PARTS = 1.05, 5, 5
READS = ("", "/board", "/next-looks", "/candidates", "/board.csv", "/ballots")
FINDING = {"checkpoint": "anodes", "kind": "looked", "level": 2}


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


@dataclass
class Web:
    """Asks all that members ask, in turns."""

    who: Speaker
    yard: Yard
    viewing: Viewing
    photos: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        at, page = f"/lists/{self.yard.list.pk}", Browser(self.who)
        boat = Candidate.objects.filter(list=self.yard.list).earliest("pk")
        self.turns = itertools.cycle(
            (
                *(lambda path=path: self.who.get(f"{at}{path}") for path in READS),
                lambda: page.get(at),
                lambda: page.get(f"/boats/{boat.pk}"),
                self.post,
                self.send_photo,
            )
        )

    def __call__(self) -> None:
        answer = next(self.turns)()
        if answer.status_code >= 400:
            raise RuntimeError(f"{answer.status_code} {answer.content!r}")

    def post(self) -> Any:
        body = {"state": "submitted", "findings": [FINDING]}
        answer = self.who.post(f"/viewings/{self.viewing.pk}/submissions", body)
        self.at = f"/submissions/{answer.json()['id']}/photos"
        return answer

    def send_photo(self) -> Any:
        answer = self.who.send_form(self.at, {"file": picture(), "checkpoint": "anodes"})
        self.photos.append(answer.json()["id"])
        return answer


@dataclass
class Worker:
    """Does what it is sent: a list to recompute, a photo to prepare."""

    list_id: UUID
    photos: list[str]

    def __call__(self) -> None:
        lists = CandidateList.objects.filter(pk=self.list_id)
        revision = lists.values_list("inputs_revision", flat=True).get()
        lists.update(inputs_revision=revision + 1)
        if list_recompute(list_id=self.list_id) != 1:
            raise RuntimeError("the list was not recomputed")
        if self.photos:
            photo_prepare(photo_id=UUID(self.photos.pop()))


def made_viewing(yard: Yard) -> Viewing:
    boat = Candidate.objects.filter(list=yard.list).earliest("pk")
    return Viewing.objects.create(
        candidate=boat, starts_at=timezone.now(), added_by=yard.organiser, state="made"
    )


def measured(requests: int, recomputes: int) -> list[float]:
    """The growth of the memory over so many requests, and over so many recomputes."""
    load_catalogue()
    organiser, *others = speakers("Ola", "Ben", "Bea")
    yard, posted_about = (yard_of(organiser, *others) for _ in range(2))
    list_recompute(list_id=yard.list.pk)
    print(f"after a first recompute: {resident():.0f} MB")
    web = Web(organiser, yard, made_viewing(posted_about))
    return [
        grown("requests", requests, web),
        grown("recomputes", recomputes, Worker(yard.list.pk, web.photos)),
    ]


def main() -> int:
    requests, recomputes = (int(given) for given in (sys.argv[1:3] or ("5000", "1000")))
    print(f"after start: {resident():.0f} MB")
    broker.send = lambda *_: True  # type: ignore[method-assign]  # no other worker runs here
    with tempfile.TemporaryDirectory() as folder:
        media = settings.STORAGES["media"]
        media = {**media, "OPTIONS": {**media["OPTIONS"], "location": folder}}
        with (
            database_apart(),
            override_settings(STORAGES={**settings.STORAGES, "media": media}),
        ):
            ratios = measured(requests, recomputes)
    met = max(ratios) < WANTED
    print(f"growth {', '.join(f'{ratio:.3f}' for ratio in ratios)}; wanted below {WANTED}: {met}")
    return int(not met)


if __name__ == "__main__":
    sys.exit(main())
