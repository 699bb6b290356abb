"""A backup on PostgreSQL while people write, restored into a new database by PostgreSQL's tools."""

import json
import os
import subprocess
import sys
import threading
from pathlib import Path

import psycopg
import pytest
from django.core.files.storage import storages
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from server.backups.databases import require_tool
from server.backups.manifest import BackupFailed, migrations_known
from tests.appraisal.building import Yard, fill, load_catalogue
from tests.system.processes import ROOT, until
from tests.viewings.media import picture

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.served,
    pytest.mark.skipif(connection.vendor != "postgresql", reason="test_embedded.py is for SQLite"),
]


def address(database: str | None = None) -> str:
    own = connection.settings_dict
    place = f"{own['HOST'] or ''}:{own['PORT']}" if own["PORT"] else own["HOST"]
    password = f":{own['PASSWORD']}" if own["PASSWORD"] else ""
    return f"postgres://{own['USER']}{password}@{place}/{database or own['NAME']}"


def manage(folder: Path, database: str, *arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "manage.py", *map(str, arguments)],
        cwd=ROOT,
        env={**os.environ, "HARDSTAND_DATA_DIR": str(folder), "DATABASE_URL": address(database)},
        capture_output=True,
        text=True,
    )


@pytest.fixture
def new_database():
    """The name of an empty database."""
    name = f"{connection.settings_dict['NAME']}_restored"
    with psycopg.connect(address(), autocommit=True) as server:
        server.execute(f'DROP DATABASE IF EXISTS "{name}"')
        server.execute(f'CREATE DATABASE "{name}"')
        yield name
        server.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


@pytest.fixture
def migrated_by_hand(settings):
    """The tests' tables come from the models; record the migrations that would make the same."""
    settings.MIGRATION_MODULES = {}  # which tests disable
    recorder = MigrationRecorder(connection)
    recorder.ensure_schema()
    before = recorder.applied_migrations().keys()
    mine = [key for name in migrations_known() if (key := tuple(name.split("."))) not in before]
    for key in mine:
        recorder.record_applied(*key)
    yield
    for key in mine:
        recorder.record_unapplied(*key)


class Writer(threading.Thread):
    """Sends photos one after the other, and takes every third away again."""

    def __init__(self, ben, viewing) -> None:
        super().__init__(daemon=True)
        self.ben, self.at = ben, f"/viewings/{viewing.pk}/photos"
        self.acknowledged: list[str] = []
        self.stopping = threading.Event()

    def run(self) -> None:
        number = 0
        while not self.stopping.is_set():
            made = self.ben.send_form(self.at, {"file": picture()})
            assert made.status_code == 201, made.content
            number += 1
            if number % 3:
                self.acknowledged.append(made.json()["id"])
            else:
                gone = self.ben.change("DELETE", f"/photos/{made.json()['id']}")
                assert gone.status_code == 204
        connection.close()

    def stop(self) -> None:
        self.stopping.set()
        self.join()


def test_it_works_among_writes(cast, tmp_path, new_database, migrated_by_hand):
    load_catalogue()
    yard = Yard.of(cast.group, cast.ola.person)
    fill(yard, [cast.ben.person, cast.bea.person], 3)
    yard.recompute()
    viewing = yard.list.candidates.order_by("pk").first().viewings.first()
    writer = Writer(cast.ben, viewing)
    writer.start()
    until(lambda: len(writer.acknowledged) > 3)
    before = set(writer.acknowledged)
    data = Path(storages["media"].location).parent
    made = manage(data, connection.settings_dict["NAME"], "backup", tmp_path / "backups")
    writer.stop()
    assert made.returncode == 0, made.stderr
    (backup,) = (tmp_path / "backups").iterdir()
    manifest = json.loads((backup / "manifest.json").read_text())
    assert manifest["missing"] == []
    assert before <= {Path(key).name[:36] for key in manifest["media"]}

    done = manage(tmp_path / "new", new_database, "restore", backup)
    assert done.returncode == 0, done.stderr
    assert "1 lists are as stored" in done.stdout
    with psycopg.connect(address(new_database)) as restored:
        photos = {str(row[0]) for row in restored.execute("SELECT id FROM viewings_photo")}
    assert before <= photos
    kept = {p.name[:36] for p in (tmp_path / "new" / "media").rglob("*") if p.is_file()}
    assert kept == photos, "each photo has its file"
    again = manage(tmp_path / "other", new_database, "restore", backup)
    assert again.returncode == 1
    assert "not empty" in again.stderr


def test_tools_of_another_version_are_refused(monkeypatch, tmp_path):
    old = tmp_path / "pg_dump"
    old.write_text("#!/bin/sh\necho 'pg_dump (PostgreSQL) 9.6.24'\n")
    old.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:{os.environ['PATH']}")
    with pytest.raises(BackupFailed, match=r"PostgreSQL \d+, but this is .*9\.6\.24"):
        require_tool("pg_dump")
