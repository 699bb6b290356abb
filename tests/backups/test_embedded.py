"""A backup on SQLite while people write, and its restoration into an empty installation."""

import json
import os
import shutil
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from pathlib import Path
from uuid import UUID

import pytest
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart

from server.backups.manifest import BackupFailed
from server.backups.restoring import backup_check
from server.demo.client import API, RequestRefused
from tests.system.processes import ROOT, free_port, until
from tests.system.test_embedded_jobs import OLA, Buyer, Embedded, buyer
from tests.viewings.media import picture

pytestmark = [
    pytest.mark.skipif(bool(os.environ.get("REDIS_URL")), reason="test_served.py is for these"),
    pytest.mark.long,
]

PATIENT = 240.0  # seconds, on a busy machine
READY = "SELECT count(*) FROM viewings_photo WHERE state = 'ready'"


def manage(folder: Path, *arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "manage.py", *map(str, arguments)],
        cwd=ROOT,
        env={**os.environ, "HARDSTAND_DATA_DIR": str(folder)},
        capture_output=True,
        text=True,
    )


class Writer(threading.Thread):
    """Sends boats and photos, one after the other, and notes what was acknowledged.

    It rests between them, because each photo is worked on, copied twice and restored.
    """

    RESTS = 0.1  # seconds

    def __init__(self, ola: Buyer) -> None:
        super().__init__(daemon=True)
        self.ola, self.photos, self.boats = ola, list[str](), list[str]()
        self.stopping = threading.Event()
        at = f"/candidates/{ola.boats[0]}/viewings"
        self.visit = ola.client.post(at, {"starts_at": "2026-01-10T10:00:00Z", "state": "made"})

    def run(self) -> None:
        while not self.stopping.wait(self.RESTS):
            name = f"Boat {len(self.boats)} more"
            made = self.ola.client.post(f"/lists/{self.ola.list_id}/candidates", {"name": name})
            self.boats.append(made["id"])
            self.send_photo()

    def send_photo(self) -> None:
        headers = {**self.ola.client.headers, "Content-Type": MULTIPART_CONTENT}
        file = encode_multipart(BOUNDARY, {"file": FakeFile()})
        path = f"{API}/viewings/{self.visit['id']}/photos"
        answer = self.ola.client.transport("POST", path, file, headers)
        if answer.status >= 400:
            raise RequestRefused("POST", path, answer)
        self.photos.append(answer.data["id"])

    def stop(self) -> None:
        self.stopping.set()
        self.join()


class FakeFile:
    name, content_type = "boat.jpg", "image/jpeg"

    def read(self) -> bytes:
        return picture()


def ids(database: Path, table: str) -> set[str]:
    with closing(sqlite3.connect(database)) as opened:
        return {str(UUID(row[0])) for row in opened.execute(f"SELECT id FROM {table}")}


@pytest.fixture(scope="module")
def backups(tmp_path_factory, migrated) -> tuple[Embedded, Path, Writer]:
    """A folder with two backups: one made among writes, and one afterwards."""
    service = Embedded(tmp_path_factory.mktemp("backed-up"), free_port())
    migrated(service.folder / "hardstand.sqlite3")
    service.manage(["add_person", OLA, "Ola"], ["add_group", "Tern", OLA])
    folder = tmp_path_factory.mktemp("elsewhere")
    with service.serving():
        ola = buyer(service)
        ola.submit(ola.boats[0], level=2)
        writer = Writer(ola)
        for _ in range(3):
            writer.send_photo()
        until(lambda: service.asked(READY) == 3, seconds=PATIENT)
        writer.start()
        until(lambda: len(writer.boats) > 3, seconds=PATIENT)
        acknowledged = (set(writer.boats), set(writer.photos))
        made = manage(service.folder, "backup", folder)
        assert made.returncode == 0, made.stderr
        (first,) = folder.iterdir()
        assert acknowledged[0] <= ids(first / "database.sqlite3", "boats_candidate")
        assert acknowledged[1] <= ids(first / "database.sqlite3", "viewings_photo")
        writer.stop()
        until(lambda: service.asked(READY) == len(writer.photos), seconds=PATIENT)
        until(lambda: not service.behind, seconds=PATIENT)
    made = manage(service.folder, "backup", folder)
    assert made.returncode == 0, made.stderr
    return service, folder, writer


def test_a_backup_among_writes_has_the_file_of_each_photo_in_its_database(backups):
    _, folder, writer = backups
    first, second = sorted(folder.iterdir())
    for backup in (first, second):
        manifest = json.loads((backup / "manifest.json").read_text())
        assert manifest["missing"] == []
        there = {Path(key).name[:36] for key in manifest["media"]}
        assert there == ids(backup / "database.sqlite3", "viewings_photo")
    assert there == set(writer.photos)


def test_a_file_that_the_earlier_backup_has_is_linked(backups):
    _, folder, _ = backups
    first, second = sorted(folder.iterdir())
    shared = [
        path
        for path in (first / "media").rglob("*.jpg")
        if (second / "media" / path.relative_to(first / "media")).stat().st_ino
        == path.stat().st_ino
    ]
    assert len(shared) >= 2 * 3


def test_it_is_restored_into_an_empty_installation_and_computes_the_same(backups, tmp_path):
    _, folder, writer = backups
    _, second = sorted(folder.iterdir())
    done = manage(tmp_path, "restore", second)
    assert done.returncode == 0, done.stderr
    assert "1 lists are as stored" in done.stdout
    database = tmp_path / "hardstand.sqlite3"
    assert set(writer.boats) <= ids(database, "boats_candidate")
    kept = {p.relative_to(tmp_path / "media") for p in (tmp_path / "media").rglob("*.jpg")}
    assert len(kept) == 2 * len(writer.photos), "each as picture and as thumbnail"
    again = manage(tmp_path, "restore", second)
    assert again.returncode == 1
    assert "not empty" in again.stderr


def test_what_was_damaged_is_named(backups, tmp_path):
    _, folder, _ = backups
    damaged = tmp_path / "damaged"
    shutil.copytree(sorted(folder.iterdir())[1], damaged)
    photo = next((damaged / "media").rglob("*.jpg"))
    photo.write_bytes(photo.read_bytes()[:-1])
    with pytest.raises(BackupFailed, match=photo.name):
        backup_check(damaged)
    (damaged / "database.sqlite3").unlink()
    with pytest.raises(BackupFailed, match=r"(?s)database.sqlite3.*" + photo.name):
        backup_check(damaged)
    (damaged / "manifest.json").unlink()
    with pytest.raises(BackupFailed, match="is no backup"):
        backup_check(damaged)
