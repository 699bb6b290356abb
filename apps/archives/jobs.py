"""A worker's jobs that make and read archives. The database records what is not done yet.

An export written twice gives the same file. The holder of its lease stores an import step by step;
a worker that claims it later continues from there.
"""

import logging
import uuid
from collections.abc import Callable, Iterable
from typing import IO, Any

from django.conf import settings
from django.db.models import F, QuerySet
from django.db.models.functions import Now
from django.utils import timezone

from apps.accounts.models import Person
from apps.archives.collecting import group_collect, person_collect
from apps.archives.files import file_fetched, file_store, files_remove, spool
from apps.archives.models import Export, Import
from apps.archives.packing import Archive, ArchiveInvalid, archive_write
from apps.archives.people import acquaintances
from apps.archives.services import UPLOAD_WITHIN
from apps.archives.storing import ImportableArchive, Progress, group_discard
from apps.common.errors import NotAllowed, NotVisible, StorageFailed
from apps.common.processes.broker import broker
from apps.groups.models import Group
from apps.groups.rules import Action, require
from apps.jobs.backoff import ASKED
from apps.jobs.leases import FREE, MOST_SWEPT, WELL, Lease, claim, rested, swept, wait_for_storage

log = logging.getLogger(__name__)

# The progress of an import: fields of `Progress` and of the stored record.
STEPS = ("begun_at", "group_id", "recognised", "newcomers", "wordings", "stored")


def export_make(*, export_id: uuid.UUID) -> None:
    """Make the archive, unless done or in progress. A failure is tried again."""
    _work(Export, export_id, _export_make)


def import_run(*, import_id: uuid.UUID) -> None:
    """Read the archive and store it as a new group, unless done or in progress."""
    _work(Import, import_id, _import_run)


def _work(kind: type[Any], pk: uuid.UUID, work: Callable[[Lease[Any]], None]) -> None:
    lease = claim(waiting(kind), pk)
    if lease is None:
        return
    job: Export | Import = lease.job
    try:
        work(lease)
    except ArchiveInvalid as refused:
        _refuse(lease, refused)
    except StorageFailed as error:
        failed_for = wait_for_storage(lease, error, version=F("version") + 1)
        log.exception("the storage fails %s %s, for %s", type(job).__name__, job.pk, failed_for)
    except ImportSuperseded:
        log.info("import %s is gone on with by somebody else", job.pk)
    except (NotAllowed, NotVisible):  # the person has lost the permission
        _give_up(job)
    except Exception as error:
        log.exception("%s %s failed", type(job).__name__, job.pk)
        if not lease.fail(error, ASKED, counted=True):
            _give_up(job)


def _export_make(lease: Lease[Export]) -> None:
    export = lease.job
    if not _attempt(lease):
        return
    if export.group is None:
        collected = person_collect(export.asked_by)
    else:
        require(export.asked_by, Action.MANAGE, export.group.pk)
        collected = group_collect(export.group, export.asked_by)
    with spool() as out:
        counts = archive_write(collected, out, timezone.now())
        size, digest = file_store(export.key, out)
    stored = _end(
        lease,
        state=Export.State.READY,
        counts=counts,
        left_out=collected.left_out,
        size_bytes=size,
        digest=digest,
        expires_at=timezone.now() + settings.EXPORT_KEPT,
    )
    if not stored and not Export.objects.filter(pk=export.pk).exists():
        files_remove([export.key])  # it was deleted meanwhile


def _import_run(lease: Lease[Import]) -> None:
    taken = lease.job
    with file_fetched(taken.key) as file:
        if _attempt(lease):
            import_carry_out(lease, file, candidates=acquaintances(taken.asked_by))


def import_carry_out(
    lease: Lease[Import], file: IO[bytes], *, candidates: Iterable[Person]
) -> ImportableArchive:
    """Store the archive step by step. Raises `ImportSuperseded`, `ArchiveInvalid`."""
    taken = lease.job
    progress = Progress(**{name: getattr(taken, name) for name in STEPS})
    progress.begun_at = taken.begun_at or timezone.now()
    imported = ImportableArchive(
        Archive(file), by=taken.asked_by, candidates=candidates, progress=progress
    )
    imported.store(name=taken.name, account=lambda made: _advance(lease, made, imported))
    files_remove([taken.key])
    return imported


def import_now(
    file: IO[bytes], *, by: Person, name: str, candidates: Iterable[Person]
) -> tuple[ImportableArchive, Group]:
    """The same at once, recognising people among `candidates`. Raises `ArchiveInvalid`.

    If it is interrupted, a worker continues it.
    """
    taken = Import(asked_by=by, name=name, state=Import.State.WAITING)
    file_store(taken.key, file)
    taken.save()
    lease = claim(waiting(Import), taken.pk)
    if lease is None:
        raise ImportSuperseded
    try:
        imported = import_carry_out(lease, file, candidates=candidates)
    except ArchiveInvalid as refused:
        _refuse(lease, refused)
        raise
    return imported, imported.progress.group


class ImportSuperseded(Exception):
    """Another worker has taken the import over, or it was deleted."""


def _advance(lease: Lease[Import], made: Progress, imported: ImportableArchive) -> None:
    """Store the progress, only for the holder of the lease. A finished step resets attempts."""
    steps = {name: getattr(made, name) for name in STEPS}
    if not lease.job.asked_by.is_active:
        raise ImportSuperseded
    if made.done:
        done = {"state": Import.State.DONE, "notes": imported.notes, "counts": imported.counts}
        stored = _end(lease, **steps, **done)
    else:
        stored = lease.heartbeat(attempts=0, **steps)
    if not stored:
        raise ImportSuperseded


def _refuse(lease: Lease[Import], refused: ArchiveInvalid) -> None:
    faults = [vars(fault) for fault in refused.faults]
    _end(lease, state=Import.State.REFUSED, faults=faults)
    files_remove([lease.job.key])
    import_discard(lease.job)


def import_discard(taken: Import) -> None:
    """Delete the stored part of an import, which nobody has seen. The sweep deletes the rest."""
    taken.refresh_from_db(fields=["group", "newcomers"])
    if taken.group_id is not None:
        group_discard(taken.group_id, taken.newcomers)


def to_discard() -> QuerySet[Import]:
    return Import.objects.filter(group__importing=True).exclude(state=Import.State.WAITING)


# --- Whose turn ----------------------------------------------------------------------------------


def waiting(kind: type[Export] | type[Import]) -> QuerySet[Any]:
    """The unfinished jobs that may be tried now."""
    return kind._base_manager.filter(kind.UNFINISHED, rested())


def _attempt(lease: Lease[Any]) -> bool:
    """Count the attempt before making it. False if the job is given up, as every worker died of it.

    Waiting for a storage does not count as an attempt, because a waiting worker may be killed.
    """
    exhausted = ASKED.exhausted(lease.count_attempt() - 1)
    if exhausted:
        _give_up(lease.job)
    return not exhausted


def _end(lease: Lease[Any], **values: Any) -> bool:
    """Store the end of the job, unless it ended meanwhile or another worker has it."""
    unfinished = lease.rows.filter(lease.job.UNFINISHED)
    return bool(
        unfinished.update(
            **FREE,
            **WELL,
            storage_failing_since=None,
            version=F("version") + 1,
            updated_at=Now(),
            **values,
        )
    )


def _give_up(job: Export | Import) -> None:
    type(job)._base_manager.filter(pk=job.pk, state=job.State.WAITING).update(
        state=job.State.FAILED, version=F("version") + 1
    )
    files_remove([job.key])
    if isinstance(job, Import):
        import_discard(job)


def sweep() -> None:
    """Send lost tasks again, and delete expired archives."""
    for kind, task in ((Export, "make_export"), (Import, "run_import")):
        for pk in swept(waiting(kind).order_by("pk")):
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


def archives_without_files_end() -> None:
    """After restoring a backup, which has no archives: end what needs one. The sweep tidies up."""
    ready = Export.objects.filter(state=Export.State.READY)
    ready.update(state=Export.State.EXPIRED, version=F("version") + 1)
    taken = Import.objects.filter(state=Import.State.WAITING)
    taken.update(state=Import.State.FAILED, version=F("version") + 1)
