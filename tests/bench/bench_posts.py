"""A submission of 60 findings as it is posted, compared with the bare insert of its rows.

Run by name: python -m tests.bench.bench_posts, perhaps with DATABASE_URL. Wanted: at most 3 times
the baseline, timed in turns with it in the same run: a view by hand behind the same middleware,
which checks the token and the person's role, and inserts the submission and its findings in bulk.
"""

import itertools
import sys
import uuid
from dataclasses import dataclass
from typing import Any

from tests.bench.apart import alternately, database_apart  # isort: skip

from django.db import connection, transaction
from django.http import HttpRequest, HttpResponse
from django.test.utils import CaptureQueriesContext, override_settings
from django.urls import include, path
from django.utils import timezone

from apps.accounts.authentication import by_own_token
from apps.boats.models import Candidate
from apps.catalogue.selectors import catalogue_snapshot
from apps.common.processes.broker import broker
from apps.groups.models import Group, Membership
from apps.groups.rules import Action, require
from apps.viewings.models import Finding, Submission, Viewing
from tests.appraisal.building import Yard, fill, load_catalogue
from tests.conftest import Speaker, speaker

FINDINGS, BOATS, WANTED, TIMES = 60, 5, 3.0, 60


@dataclass
class ByHand:
    """What the view by hand stores anew with each request."""

    viewing: Viewing
    group: Group
    versions: dict[str, int]

    def view(self, request: HttpRequest) -> HttpResponse:
        known = by_own_token(request.headers["Authorization"].partition(" ")[2])
        assert known is not None
        person, _ = known
        with transaction.atomic():
            require(person, Action.SUBMIT, self.group.pk)
            submission = Submission.objects.create(
                viewing=self.viewing,
                author=person,
                state=Submission.State.SUBMITTED,
                submitted_at=timezone.now(),
            )
            Finding.objects.bulk_create(
                Finding(
                    submission=submission,
                    checkpoint_id=code,
                    checkpoint_version_id=version,
                    kind=Finding.Kind.LOOKED,
                    level=1,
                )
                for code, version in self.versions.items()
            )
        return HttpResponse(status=201)


urlpatterns: list[Any] = [path("", include("server.urls"))]


def scene() -> tuple[ByHand, Speaker]:
    """A visit to a boat on a list of a few boats, and somebody who was on it."""
    who, group = speaker("Ola"), Group.objects.create(name="Tern")
    Membership.objects.create(group=group, person=who.person, role="organiser", buys=True)
    yard = Yard.of(group, who.person)
    fill(yard, [who.person], BOATS)
    boat = Candidate.objects.filter(list=yard.list).earliest("pk")
    viewing = Viewing.objects.create(
        candidate=boat, starts_at=timezone.now(), added_by=who.person, state="made"
    )
    return ByHand(viewing, group, {}), who


def posted(who: Speaker, viewing: Viewing, codes: list[str]) -> Any:
    findings = [{"checkpoint": code, "kind": "looked", "level": 1} for code in codes]
    return who.post(
        f"/viewings/{viewing.pk}/submissions",
        {"state": "submitted", "findings": findings},
        Idempotency_Key=str(uuid.uuid4()),
    )


def fitting(who: Speaker, viewing: Viewing) -> dict[str, int]:
    """Versions of so many checkpoints that apply to the boat, by code."""
    versions = catalogue_snapshot().checkpoint_version_ids
    refused = posted(who, viewing, [*versions])
    faulty = {int(one["pointer"].split("/")[2]) for one in refused.json()["errors"]}
    whole = (one for n, one in enumerate(versions.items()) if n not in faulty)
    return dict(itertools.islice(whole, FINDINGS))


def main() -> int:
    with database_apart(), override_settings(ROOT_URLCONF=__name__):
        broker.send = lambda *_: True  # type: ignore[method-assign]  # no worker runs here
        load_catalogue()
        by_hand, who = scene()
        by_hand.versions = fitting(who, by_hand.viewing)
        codes = [*by_hand.versions]
        urlpatterns.insert(0, path("api/v1/by-hand", by_hand.view))
        with CaptureQueriesContext(connection) as captured:
            assert posted(who, by_hand.viewing, codes).status_code == 201
            queries = len(captured)
        ours, bare = alternately(
            TIMES, lambda: posted(who, by_hand.viewing, codes), lambda: who.post("/by-hand")
        )
    print(
        f"{len(codes)} findings: {ours * 1e3:.1f} ms and {queries} queries; bare insert "
        f"{bare * 1e3:.1f} ms; ratio {ours / bare:.1f}, wanted at most {WANTED:.0f}"
    )
    return int(ours / bare > WANTED)


if __name__ == "__main__":
    sys.exit(main())
