"""Background work on lists, so that every finding becomes a result.

The database is the record of what is stale: a list whose inputs revision is ahead of its results.
The worker that gets a message claims the list's lease (`apps.jobs.leases`). If the lease is taken
the worker does nothing: the holder looks for newer inputs after each round.
"""

import logging
import math
import time
import uuid
from collections.abc import Callable
from datetime import datetime

from django.conf import settings
from django.db.models import F, Min, Q, QuerySet, Subquery

from apps.appraisal.compute.computing import METHOD, compute
from apps.appraisal.compute.inputs import read_inputs
from apps.appraisal.compute.results import results_of
from apps.appraisal.looks.looks import looks_of
from apps.appraisal.models import ListAppraisal, NarrowerResults
from apps.appraisal.storing import looks_store, results_store
from apps.boats.list_models import CandidateList
from apps.catalogue.models import Edition
from apps.jobs.backoff import MUST
from apps.jobs.leases import MOST_SWEPT, Lease, claim, free, rested, work_while_due

log = logging.getLogger(__name__)

Of = NarrowerResults.Of
# Prefix of the fields that record what the results were computed from.
PREFIX = {Of.BOARD: "", Of.LOOKS: "looks_"}
# One list that changes all the time must not keep a worker from the others.
MOST_ROUNDS = 4
SUPERSEDED_CHECK_SECONDS = 0.2  # rare enough to cost nothing at any list size


class Superseded(Exception):
    """The inputs changed while their results were being computed."""


def list_recompute(*, list_id: uuid.UUID) -> int:
    """Work on the list until its results are up to date, unless another worker does so already.

    Returns the number of rounds; after `MOST_ROUNDS` the list may still be stale.
    """
    return work_while_due(lambda: lease_claim(list_id), _work, MOST_ROUNDS)


def lists_due() -> QuerySet[CandidateList]:
    """Stale lists that may be tried: a failed one waits for its next time, or for other inputs."""
    may = rested("appraisal__") | ~Q(appraisal__failed_revision=F("inputs_revision"))
    return lists_behind().filter(may, group__importing=False)


def boards_behind() -> QuerySet[CandidateList]:
    """Lists whose board and costs are stale."""
    return CandidateList.objects.filter(is_behind(Of.BOARD))


def looks_behind() -> QuerySet[CandidateList]:
    """Lists whose next looks, raters and explanations are stale."""
    return CandidateList.objects.filter(is_behind(Of.LOOKS))


def lists_behind() -> QuerySet[CandidateList]:
    """Lists with any stale results."""
    return boards_behind() | looks_behind()


def is_behind(of: NarrowerResults.Of) -> Q:
    """The condition of a list whose results of this kind are stale."""
    which = PREFIX[of]
    edition = Subquery(Edition.objects.order_by("-number").values("number")[:1])
    return (
        Q(appraisal=None)
        | Q(**{f"appraisal__{which}revision__lt": F("inputs_revision")})
        | Q(**{f"appraisal__{which}edition__lt": edition})
        | ~Q(**{f"appraisal__{which}method": METHOD})
    )


def due_and_free() -> list[uuid.UUID]:
    """Due lists that no worker holds, those with the fewest failures first."""
    rows = lists_due().filter(free("appraisal__")).order_by("appraisal__attempts", "updated_at")
    return list(rows.values_list("pk", flat=True)[:MOST_SWEPT])


def oldest_change_not_in_results() -> datetime | None:
    """When the inputs last changed of the list that waits longest for a worker; None: none does.

    Lists that wait only for a new edition or method do not count: they are many at once, and their
    results were right until then.
    """
    ahead = Q(appraisal=None) | Q(appraisal__looks_revision__lt=F("inputs_revision"))
    waiting = lists_due().filter(ahead, free("appraisal__"))
    oldest: datetime | None = waiting.aggregate(oldest=Min("inputs_changed_at"))["oldest"]
    return oldest


def lease_claim(list_id: uuid.UUID) -> Lease[ListAppraisal] | None:
    """None if the list is not due, or another worker holds it."""
    due = lists_due().filter(pk=list_id)
    if not due.exists():
        return None
    ListAppraisal.objects.bulk_create([ListAppraisal(list_id=list_id)], ignore_conflicts=True)
    return claim(ListAppraisal.objects.filter(list__in=due), list_id, settings.APPRAISAL_LEASE)


def _work(lease: Lease[ListAppraisal]) -> None:
    """One round: read, compute outside any transaction, store. A failure is recorded, not raised.

    The revision is read before the inputs. A change in between raises the revision again, so a
    result never counts as newer than its oldest input.
    """
    list_id = lease.job.pk
    revision = _inputs_revision(list_id)
    if revision is None:
        return  # the list was deleted meanwhile
    beat = lease.heartbeats()
    started = time.monotonic()
    try:
        computed = compute(read_inputs(list_id), beat)
        results_store(
            list_id=list_id,
            revision=revision,
            results=results_of(computed),
            seconds=time.monotonic() - started,
        )
        looks = looks_of(computed, _until_superseded(list_id, revision, beat))
        looks_store(list_id=list_id, revision=revision, looks=looks)
    except Superseded:
        log.info("looks of list %s at revision %s given up for newer inputs", list_id, revision)
    except Exception as error:
        log.exception("appraisal of list %s at revision %s failed", list_id, revision)
        lease.fail(error, MUST, failed_revision=revision)


def _inputs_revision(list_id: uuid.UUID) -> int | None:
    """None if the list is gone."""
    revisions = CandidateList.objects.filter(pk=list_id).values_list("inputs_revision", flat=True)
    return revisions.first()


def _until_superseded(
    list_id: uuid.UUID, revision: int, beat: Callable[[], None]
) -> Callable[[], None]:
    """A heartbeat that stops the work for newer inputs: their board comes before the slow
    results.
    """
    looked = -math.inf

    def beat_or_stop() -> None:
        nonlocal looked
        beat()
        if time.monotonic() - looked > SUPERSEDED_CHECK_SECONDS:
            looked = time.monotonic()
            if _inputs_revision(list_id) != revision:
                raise Superseded

    return beat_or_stop
