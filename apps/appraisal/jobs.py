"""Who works on a list and when, so that a finding always becomes a result.

The database is the record of what is stale: a list whose inputs revision is ahead of its results.
A message to a worker is only a hint that makes it quicker. Whoever gets it claims the list's lease
by one conditional update; a message that finds the lease taken does nothing, for the holder looks
again after each round. Lost messages, dead workers and failed rounds are found by the sweep.
"""

import logging
import math
import time
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import F, Q, QuerySet, Subquery
from django.utils import timezone

from apps.appraisal.computing import METHOD, compute
from apps.appraisal.inputs import read_inputs
from apps.appraisal.looks import looks_of
from apps.appraisal.models import ListAppraisal
from apps.appraisal.results import results_of
from apps.appraisal.storing import looks_store, results_store
from apps.boats.models import CandidateList
from apps.catalogue.models import Edition

log = logging.getLogger(__name__)

# One list that changes all the time must not keep a worker from the others.
MOST_ROUNDS = 4
MOST_SWEPT = 500
SUPERSEDED_CHECK_SECONDS = 0.2  # seldom enough to cost nothing, whatever the size of the list
FIRST_RETRY = timedelta(seconds=5)
LAST_RETRY = timedelta(hours=1)


@dataclass(frozen=True)
class Lease:
    """The right to work on one list until it runs out."""

    list_id: uuid.UUID
    holder: uuid.UUID


class Superseded(Exception):
    """What is being worked out is out of date before it is done."""


def list_recompute(*, list_id: uuid.UUID) -> int:
    """Work on the list until its results are up to date, unless somebody else does already.

    Returns how many rounds were worked; after `MOST_ROUNDS` the list may be behind still.
    """
    rounds = 0
    # Looking again after the release catches a message that came, and went, just before it.
    while rounds < MOST_ROUNDS and lists_due().filter(pk=list_id).exists():
        lease = lease_claim(list_id)
        if lease is None:
            break
        rounds += 1
        try:
            _work(lease)
        finally:
            lease_release(lease)
    return rounds


def lists_due(now: datetime | None = None) -> QuerySet[CandidateList]:
    """Those behind that may be tried: what failed waits for its time, or for other inputs."""
    now = now or timezone.now()
    waiting = Q(appraisal__failed_revision=F("inputs_revision"), appraisal__retry_at__gt=now)
    return lists_behind().exclude(waiting).filter(group__importing=False)


def boards_behind() -> QuerySet[CandidateList]:
    """Lists whose board and costs are not what they would be if they were worked out now."""
    return CandidateList.objects.filter(_behind(""))


def looks_behind() -> QuerySet[CandidateList]:
    """Lists whose next looks, inspectors and explanations are not."""
    return CandidateList.objects.filter(_behind("looks_"))


def lists_behind() -> QuerySet[CandidateList]:
    """Lists of which anything is not what it would be if it were worked out now."""
    return boards_behind() | looks_behind()


def _behind(which: str) -> Q:
    """which: how the fields that tell what the results were worked out from begin."""
    edition = Subquery(Edition.objects.order_by("-number").values("number")[:1])
    return (
        Q(appraisal=None)
        | Q(**{f"appraisal__{which}revision__lt": F("inputs_revision")})
        | Q(**{f"appraisal__{which}edition__lt": edition})
        | ~Q(**{f"appraisal__{which}method": METHOD})
    )


def due_and_free(*, limit: int = MOST_SWEPT) -> list[uuid.UUID]:
    """Lists that nobody works on though somebody should, those that failed least first."""
    now = timezone.now()
    free = Q(appraisal__leased_until=None) | Q(appraisal__leased_until__lte=now)
    rows = lists_due(now).filter(free).order_by("appraisal__attempts", "updated_at")
    return list(rows.values_list("pk", flat=True)[:limit])


def lease_claim(list_id: uuid.UUID) -> Lease | None:
    """Take the list's lease if it is free or has run out; None if somebody holds it."""
    ListAppraisal.objects.bulk_create([ListAppraisal(list_id=list_id)], ignore_conflicts=True)
    lease = Lease(list_id, uuid.uuid4())
    now = timezone.now()
    claimed = (
        ListAppraisal.objects.filter(pk=list_id)
        .filter(Q(leased_until=None) | Q(leased_until__lte=now))
        .update(leased_by=lease.holder, leased_until=now + settings.APPRAISAL_LEASE)
    )
    return lease if claimed else None


def lease_renew(lease: Lease) -> None:
    """Keep the lease while the work goes on. Losing it is harmless: results compare revisions."""
    until = timezone.now() + settings.APPRAISAL_LEASE
    _held(lease).update(leased_until=until)


def lease_release(lease: Lease) -> None:
    _held(lease).update(leased_by=None, leased_until=None)


def leases_void() -> None:
    """Void all leases: for the only worker there is, before it starts. Who held them has died."""
    ListAppraisal.objects.exclude(leased_by=None).update(leased_by=None, leased_until=None)


def _held(lease: Lease) -> QuerySet[ListAppraisal]:
    return ListAppraisal.objects.filter(pk=lease.list_id, leased_by=lease.holder)


def _work(lease: Lease) -> None:
    """One round: read, compute outside any transaction, store. A failure is recorded, not raised.

    The revision is read before the inputs. What changes in between moves the revision, so that a
    result is never taken for newer than the oldest of what it was worked out from.
    """
    revision = _inputs_revision(lease.list_id)
    if revision is None:
        return  # the list was deleted meanwhile
    heartbeat = _renewals(lease)
    started = time.monotonic()
    try:
        computed = compute(read_inputs(lease.list_id), heartbeat)
        results_store(
            list_id=lease.list_id,
            revision=revision,
            results=results_of(computed),
            seconds=time.monotonic() - started,
        )
        looks = looks_of(computed, _until_superseded(lease.list_id, revision, heartbeat))
        looks_store(list_id=lease.list_id, revision=revision, looks=looks)
    except Superseded:
        log.info(
            "looks of list %s at revision %s given up for newer inputs", lease.list_id, revision
        )
    except Exception as error:
        log.exception("appraisal of list %s at revision %s failed", lease.list_id, revision)
        failure_record(list_id=lease.list_id, revision=revision, error=error)


def _inputs_revision(list_id: uuid.UUID) -> int | None:
    """None once the list is gone."""
    revisions = CandidateList.objects.filter(pk=list_id).values_list("inputs_revision", flat=True)
    return revisions.first()


def _renewals(lease: Lease) -> Callable[[], None]:
    """What the computation calls between its steps: renews the lease when a third of it is gone."""
    third = settings.APPRAISAL_LEASE.total_seconds() / 3
    renewed = time.monotonic()

    def heartbeat() -> None:
        nonlocal renewed
        if time.monotonic() - renewed > third:
            lease_renew(lease)
            renewed = time.monotonic()

    return heartbeat


def _until_superseded(
    list_id: uuid.UUID, revision: int, heartbeat: Callable[[], None]
) -> Callable[[], None]:
    """A pulse that ends the work: the board of newer inputs goes before what takes longer."""
    looked = -math.inf

    def heartbeat_or_stop() -> None:
        nonlocal looked
        heartbeat()
        if time.monotonic() - looked > SUPERSEDED_CHECK_SECONDS:
            looked = time.monotonic()
            if _inputs_revision(list_id) != revision:
                raise Superseded

    return heartbeat_or_stop


@transaction.atomic
def failure_record(*, list_id: uuid.UUID, revision: int, error: Exception) -> None:
    """Remember what went wrong, and wait twice as long as the last time before trying again."""
    appraisal = ListAppraisal.objects.filter(pk=list_id).first()
    if appraisal is None:  # the list was deleted meanwhile
        return
    wait = min(FIRST_RETRY * 2 ** min(appraisal.attempts, 16), LAST_RETRY)
    ListAppraisal.objects.filter(pk=list_id).update(
        attempts=min(appraisal.attempts + 1, 1000),
        failed_revision=revision,
        retry_at=timezone.now() + wait,
        last_error=f"{type(error).__name__}: {error}"[:2000],
    )
