"""Services of exports and imports."""

import uuid
from datetime import timedelta
from typing import IO

from django.db import transaction

from apps.accounts.models import Person
from apps.archives.files import file_store
from apps.archives.models import Export, Import
from apps.common.errors import Conflict
from apps.common.processes.broker import broker
from apps.events.services import event_record
from apps.groups.rules import Action, require

# Each takes a worker some time, so one person may not have more at once.
MOST_UNFINISHED = 3
UPLOAD_WITHIN = timedelta(hours=1)


@transaction.atomic
def group_export_ask(*, group_id: uuid.UUID, by: Person) -> Export:
    """Ask for an archive of the whole group. The group's feed reports the export."""
    require(by, Action.MANAGE, group_id)
    export = _export_create(by, group_id)
    event_record(
        group_id=group_id, kind="export.asked", thing="export", thing_id=export.pk, by_id=by.pk
    )
    return export


@transaction.atomic
def person_export_ask(*, by: Person) -> Export:
    """Ask for an archive of all stored data of a person."""
    return _export_create(by, None)


def _export_create(by: Person, group_id: uuid.UUID | None) -> Export:
    unfinished = Export.objects.filter(asked_by=by, group=group_id, state=Export.State.WAITING)
    if unfinished.count() >= MOST_UNFINISHED:
        raise Conflict("still_waiting", "Your earlier archive is still being made.")
    export = Export.objects.create(asked_by=by, group_id=group_id)
    send_later("make_export", export.pk)
    return export


@transaction.atomic
def import_open(*, by: Person, name: str = "") -> Import:
    """Make an import, whose archive becomes a new group with `by` as organiser."""
    unfinished = Import.objects.filter(
        asked_by=by, state__in=(Import.State.UPLOAD, Import.State.WAITING)
    )
    if unfinished.count() >= MOST_UNFINISHED:
        raise Conflict(
            "still_waiting", "Send the archive of your earlier import, or wait until it is read."
        )
    return Import.objects.create(asked_by=by, name=name)


@transaction.atomic
def import_upload(*, opened: Import, file: IO[bytes]) -> None:
    """Store the uploaded archive. Raises `Conflict` if one came before."""
    taken = Import.objects.filter(pk=opened.pk, state=Import.State.UPLOAD)
    if not taken.update(state=Import.State.WAITING):
        raise Conflict("sent_already", "An archive was sent here before.")
    file_store(opened.key, file)
    send_later("run_import", opened.pk)


def send_later(task: str, pk: uuid.UUID) -> None:
    """Send a worker's task after the commit; if the message is lost, the sweep finds it."""
    transaction.on_commit(lambda: broker.send(f"apps.archives.tasks.{task}", str(pk)), robust=True)
