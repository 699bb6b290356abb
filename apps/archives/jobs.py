"""Making and reading archives, in a worker. The database is the record of what is not done yet.

A message to a worker is only a hint. Whoever gets it claims the record's lease by one conditional
update; an export written twice is the same file, and an import is stored step by step, each by
whoever comes from where it is.
"""

import logging
import uuid
from collections.abc import Iterable
from datetime import timedelta
from typing import IO, Any

from django.conf import settings
from django.db.models import F, Q, QuerySet
from django.utils import timezone

from apps.accounts.models import Person
from apps.archives.collecting import group_collect, person_collect
from apps.archives.files import file_fetched, file_store, files_remove, spool
from apps.archives.models import Export, Import
from apps.archives.packing import Archive, ArchiveInvalid, archive_write
from apps.archives.people import acquaintances
from apps.archives.services import UPLOAD_WITHIN
from apps.archives.storing import Imported, Progress, group_discard
from apps.common.broker import broker
from apps.common.errors import ServiceError, StorageFailed
from apps.groups.models import Group
from apps.groups.rules import Action, require

log = logging.getLogger(__name__)

LEASE = timedelta(minutes=6)  # longer than a task may take (CELERY_TASK_TIME_LIMIT)
FIRST_RETRY, LONGEST_WAIT = timedelta(seconds=10), timedelta(hours=1)
MOST_ATTEMPTS = 4
TOLD = ("state", "failing", "storage_failing_since")  # how it comes along
MOST_SWEPT = 100


def export_make(*, export_id: uuid.UUID) -> None:
    """Make the archive, unless that was done or somebody is at it. A failure is tried again."""
    export = _claim(Export, export_id)
    if export is None:
        return
    try:
        _export_make(export)
    except StorageFailed:
        _wait_for_storage(export)
    except ServiceError:  # the asker may not any more
        _give_up(export)
    except Exception:
        _failed(export)


def _export_make(export: Export) -> None:
    if not _attempt(export):
        return
    if export.group is None:
        collected = person_collect(export.asked_by)
    else:
        require(export.asked_by, Action.MANAGE, export.group.pk)
        collected = group_collect(export.group, export.asked_by)
    with spool() as out:
        counts = archive_write(collected, out, timezone.now())
        size, digest = file_store(export.key, out)
    export.state = Export.State.READY
    export.counts, export.left_out = counts, collected.left_out
    export.size_bytes, export.digest = size, digest
    export.expires_at = timezone.now() + settings.EXPORT_KEPT
    export.failing, export.storage_failing_since = False, None
    export.save_changes(fields=[*TOLD, "counts", "left_out", "size_bytes", "digest", "expires_at"])


def import_take(*, import_id: uuid.UUID) -> None:
    """Read the archive and store it as a new group, unless that was done or somebody is at it."""
    taken = _claim(Import, import_id)
    if taken is None:
        return
    try:
        _import_take(taken)
    except ArchiveInvalid as refused:
        _refuse(taken, refused)
    except StorageFailed:
        _wait_for_storage(taken)
    except Superseded:
        log.info("import %s is gone on with by somebody else", taken.pk)
    except Exception:
        _failed(taken)


def _import_take(taken: Import) -> None:
    with file_fetched(taken.key) as file:
        if not _attempt(taken):
            return
        import_carry_out(taken, file, candidates=acquaintances(taken.asked_by))


def import_carry_out(taken: Import, file: IO[bytes], *, candidates: Iterable[Person]) -> Imported:
    """Store the archive step by step, from where it is. Raises `Superseded`, `ArchiveInvalid`."""
    progress = Progress(
        begun_at=taken.begun_at or timezone.now(),
        group_id=taken.group_id,
        recognised=taken.recognised,
        newcomers=taken.newcomers,
        wordings=taken.wordings,
        stored=taken.stored,
    )
    imported = Imported(Archive(file), by=taken.asked_by, candidates=candidates, progress=progress)
    before = (taken.group_id, taken.stored)

    def account(made: Progress) -> None:
        nonlocal before
        _advance(taken, before, made, imported)
        before = (made.group_id, made.stored)

    imported.store(name=taken.name, account=account)
    files_remove([taken.key])
    return imported


def import_now(
    file: IO[bytes], *, by: Person, name: str, candidates: Iterable[Person]
) -> tuple[Imported, Group]:
    """The same at once, and whoever `candidates` are is recognised. Raises `ArchiveInvalid`.

    If it is broken off, a worker goes on with it.
    """
    taken = Import.objects.create(
        asked_by=by, name=name, state=Import.State.WAITING, leased_until=timezone.now() + LEASE
    )
    file_store(taken.key, file)
    try:
        imported = import_carry_out(taken, file, candidates=candidates)
    except ArchiveInvalid as refused:
        _refuse(taken, refused)
        raise
    return imported, imported.progress.group


class Superseded(Exception):
    """Another worker went on with it, or nobody wants it any more."""


def _advance(
    taken: Import, before: tuple[uuid.UUID | None, int], made: Progress, imported: Imported
) -> None:
    """Only who comes from where it is may go on. A step that was made is no failed attempt."""
    values: dict[str, Any] = {
        "begun_at": made.begun_at,
        "group_id": made.group_id,
        "recognised": made.recognised,
        "newcomers": made.newcomers,
        "wordings": made.wordings,
        "stored": made.stored,
        "leased_until": timezone.now() + LEASE,
        "attempts": 0,
    }
    if made.done:
        values |= {
            "state": Import.State.DONE,
            "failing": False,
            "storage_failing_since": None,
            "notes": imported.notes,
            "counts": imported.counts,
            "version": F("version") + 1,
        }
    here = Import.objects.filter(
        pk=taken.pk, state=Import.State.WAITING, group=before[0], stored=before[1]
    )
    if not taken.asked_by.is_active or not here.update(**values):
        raise Superseded


def _refuse(taken: Import, refused: ArchiveInvalid) -> None:
    taken.refresh_from_db()
    taken.state = Import.State.REFUSED
    taken.failing, taken.storage_failing_since = False, None
    taken.faults = [vars(fault) for fault in refused.faults]
    taken.save_changes(fields=[*TOLD, "faults"])
    files_remove([taken.key])
    import_discard(taken)


def import_discard(taken: Import) -> None:
    """What was stored of it, which nobody has seen. The sweep finds what is left of that."""
    if taken.group_id is not None:
        group_discard(taken.group_id, taken.newcomers)


def to_discard() -> QuerySet[Import]:
    return Import.objects.filter(group__importing=True).exclude(state=Import.State.WAITING)


# --- Whose turn ----------------------------------------------------------------------------------


def waiting(kind: type[Export] | type[Import]) -> QuerySet[Any]:
    """What is not done yet and what nobody works on."""
    free = Q(leased_until=None) | Q(leased_until__lte=timezone.now())
    return kind._base_manager.filter(free, state=kind.State.WAITING)


def _claim(kind: type[Any], pk: uuid.UUID) -> Any | None:
    claimed = waiting(kind).filter(pk=pk)
    if not claimed.update(leased_until=timezone.now() + LEASE):
        return None
    return kind._base_manager.select_related("asked_by").get(pk=pk)


def _attempt(job: Export | Import) -> bool:
    """Counted before it is made. False, with the job given up: every worker that tried died of it.

    To wait for a storage that does not answer is no attempt: whoever does may be killed.
    """
    type(job)._base_manager.filter(pk=job.pk).update(attempts=F("attempts") + 1)
    job.attempts += 1
    if job.attempts > MOST_ATTEMPTS:
        _give_up(job)
    return job.attempts <= MOST_ATTEMPTS


def _failed(job: Export | Import) -> None:
    job.refresh_from_db(fields=["attempts"])  # steps that were made have set it back
    log.exception("%s %s failed (attempt %s)", type(job).__name__, job.pk, job.attempts)
    if job.attempts >= MOST_ATTEMPTS:
        _give_up(job)
        return
    wait = FIRST_RETRY * 4**job.attempts
    type(job)._base_manager.filter(pk=job.pk).update(
        leased_until=timezone.now() + wait, failing=True
    )


def _wait_for_storage(job: Export | Import) -> None:
    """The storage is away or full: that is no attempt, and is tried for as long as it takes."""
    now = timezone.now()
    since = job.storage_failing_since or now
    log.exception("the storage failed for %s %s, since %s", type(job).__name__, job.pk, since)
    type(job)._base_manager.filter(pk=job.pk, state=job.State.WAITING).update(
        leased_until=now + min(max(now - since, FIRST_RETRY), LONGEST_WAIT),
        attempts=0,
        failing=True,
        storage_failing_since=since,
        version=F("version") + int(job.storage_failing_since is None),  # it is shown
    )


def _give_up(job: Export | Import) -> None:
    type(job)._base_manager.filter(pk=job.pk, state=job.State.WAITING).update(
        state=job.State.FAILED, version=F("version") + 1
    )
    files_remove([job.key])
    if isinstance(job, Import):
        import_discard(Import.objects.get(pk=job.pk))


def sweep() -> None:
    """Send again what was lost, and forget what is not kept any longer."""
    for kind, task in ((Export, "make_export"), (Import, "take_import")):
        for pk in waiting(kind).order_by("pk").values_list("pk", flat=True)[:MOST_SWEPT]:
            broker.send(f"apps.archives.tasks.{task}", str(pk))
    for left in to_discard()[:MOST_SWEPT]:
        import_discard(left)
    now = timezone.now()
    _expire(Export.objects.filter(state=Export.State.READY, expires_at__lte=now))
    _expire(Import.objects.filter(state=Import.State.UPLOAD, created_at__lte=now - UPLOAD_WITHIN))


def _expire(jobs: QuerySet[Any]) -> None:
    for job in jobs[:MOST_SWEPT]:
        files_remove([job.key])
        jobs.filter(pk=job.pk).update(state="expired", version=F("version") + 1)
