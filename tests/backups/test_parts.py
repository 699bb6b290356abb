"""What a backup relies on: files that wait, cursors that are refused, results that are compared."""

import threading
import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.utils import timezone

from apps.appraisal.models import CandidateAppraisal, ListAppraisal
from apps.appraisal.rechecking import lists_to_recheck, parts_unequal, same
from apps.archives.jobs import archives_without_files_end
from apps.archives.models import Export, Import
from apps.common.processes.locks import LockHeld, exclusive, is_held
from apps.events.models import Event, EventSequence
from apps.events.retention import cursors_void
from apps.events.services import event_record
from apps.viewings.media.files import REMOVALS_WAIT, file_store, files_remove, files_sweep, storage
from apps.viewings.media.models import OrphanFile, Photo
from server.backups import databases
from server.backups.databases import require_tool
from server.backups.making import backup_make, backups_prune
from server.backups.manifest import BackupFailed
from tests.appraisal.building import Yard, fill, load_catalogue


@pytest.fixture(autouse=True)
def _own_folder(settings, tmp_path):
    settings.DATA_DIR = tmp_path


class Elsewhere:
    """Holds a lock in another connection, as another process does."""

    def __init__(self, name: str) -> None:
        self.name, self.held, self.done = name, threading.Event(), threading.Event()
        self.thread = threading.Thread(target=self.hold)

    def hold(self) -> None:
        with exclusive(self.name, wait=True):
            self.held.set()
            self.done.wait(20)
        connection.close()

    def __enter__(self) -> None:
        self.thread.start()
        assert self.held.wait(20)

    def __exit__(self, *_: object) -> None:
        self.done.set()
        self.thread.join()


@pytest.mark.django_db(transaction=True)
def test_a_lock_excludes_others_until_it_ends():
    assert not is_held("trial")
    with Elsewhere("trial"):
        assert is_held("trial")
        assert not is_held("another")
        with pytest.raises(LockHeld), exclusive("trial", wait=False):
            pass
    assert not is_held("trial")
    with exclusive("trial", wait=False):
        pass


@pytest.mark.django_db(transaction=True)
def test_files_that_go_during_a_backup_go_with_the_next_sweep():
    photo = Photo(group_id=uuid.uuid4())
    keys = [photo.key("image"), photo.key("thumbnail")]
    for form in ("image", "thumbnail"):
        file_store(photo, form, b"content")
    others = [Photo(group_id=photo.group_id) for _ in range(3)]
    for other in others:  # half of all files would be too many at once
        file_store(other, "image", b"another's")
        OrphanFile.objects.create(key=other.key("image"))
    with Elsewhere(REMOVALS_WAIT):
        files_remove(keys)
        assert all(map(storage().exists, keys))
        assert files_sweep() == 0
        assert all(map(storage().exists, keys))
    assert files_sweep(however_many=True) == 2
    assert not any(map(storage().exists, keys))
    assert all(storage().exists(other.key("image")) for other in others)


def test_a_cursor_from_the_time_that_was_lost_is_refused(cast):
    """Its number will be another event's, so that reader would miss changes."""
    group, ola = cast.group.id, cast.ola

    def cursor_after(events: int) -> str:
        for _ in range(events):
            event_record(group_id=group, kind="list.added", thing="list", thing_id=uuid.uuid4())
        return ola.get("/changes").json()["cursor"]

    before, lost = cursor_after(2), cursor_after(3)
    back = EventSequence.objects.get(group=group).last - 3
    Event.objects.filter(group=group, number__gt=back).delete()
    EventSequence.objects.filter(group=group).update(last=back)  # as in the backup
    cursors_void()
    after = cursor_after(4)
    answer = ola.get(f"/changes?since={lost}")
    assert (answer.status_code, answer.json()["code"]) == (410, "cursor_too_old")
    assert len(ola.get(f"/changes?since={before}").json()["results"]) == 4
    assert ola.get(f"/changes?since={after}").json()["results"] == []


def test_archives_end_because_their_files_are_in_no_backup(cast):
    tomorrow = timezone.now() + timedelta(days=1)
    Export.objects.create(
        asked_by=cast.ola.person, state="ready", expires_at=tomorrow, digest="0" * 64
    )
    Import.objects.create(asked_by=cast.ola.person, state="waiting")
    archives_without_files_end()
    assert (Export.objects.get().state, Import.objects.get().state) == ("expired", "failed")


@pytest.mark.django_db
def test_stored_results_are_compared_with_computed_ones(cast):
    load_catalogue()
    yard = Yard.of(cast.group, cast.ola.person)
    fill(yard, [cast.ben.person], 2)
    assert lists_to_recheck() == [], "not computed yet"
    yard.recompute()
    assert lists_to_recheck() == [yard.list.pk]
    assert parts_unequal(yard.list.pk) == []
    boat = CandidateAppraisal.objects.first()
    boat.rollup = {**boat.rollup, "changed": 1}
    boat.save()
    ListAppraisal.objects.update(raters={})
    assert parts_unequal(yard.list.pk) == [f"rollup of {boat.pk}", "raters"]


@pytest.mark.parametrize(
    ("stored", "computed", "equal"),
    [
        ({"a": [1.0, "x"]}, {"a": [1.0 + 1e-13, "x"]}, True),
        ({"a": 1.0}, {"a": 1.0001}, False),
        ({"a": 1}, {"a": 1, "b": None}, False),
        ([1, 2], [2, 1], False),
        ({"a": True}, {"a": "true"}, False),
    ],
)
def test_equal_to_nine_digits(stored, computed, equal):
    assert same(stored, computed) is equal


def test_the_newest_backups_are_kept(tmp_path):
    for day in "1234":
        (tmp_path / f"2026010{day}T000000Z").mkdir()
        (tmp_path / f"2026010{day}T000000Z" / "manifest.json").touch()
    (tmp_path / "20260109T000000Z").mkdir()  # not whole
    (tmp_path / "my own").mkdir()
    backups_prune(tmp_path, keep=2)
    left = {path.name for path in tmp_path.iterdir()}
    assert left == {"20260103T000000Z", "20260104T000000Z", "20260109T000000Z", "my own"}
    backups_prune(tmp_path, keep=0)
    assert (tmp_path / "20260104T000000Z").exists(), "never the last one"


@pytest.mark.django_db
def test_a_tool_that_is_missing_is_named(monkeypatch):
    monkeypatch.setattr(databases.shutil, "which", lambda tool: None)
    with pytest.raises(BackupFailed, match="pg_dump is missing"):
        require_tool("pg_dump")


@pytest.mark.django_db(transaction=True)
def test_two_backups_at_once_are_refused(tmp_path):
    with Elsewhere(REMOVALS_WAIT), pytest.raises(BackupFailed, match="Another backup"):
        backup_make(tmp_path / "backups")
