"""A large import on SQLite lets others write, and continues after a crash."""

import os
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from tests.system.processes import ROOT, until

pytestmark = [
    pytest.mark.skipif(
        bool(os.environ.get("DATABASE_URL")), reason="what is tested is SQLite's one writer"
    ),
    pytest.mark.long,
]
# How long a writer waits for its turn. One step takes some hundredths of a second; all of the
# archive in one transaction took many seconds.
PATIENCE_SECONDS = 2


class Place:
    """A data folder with its database, and programs run on it."""

    organiser = ""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.database = folder / "hardstand.sqlite3"
        self.environment = {
            **os.environ,
            "HARDSTAND_DATA_DIR": str(folder),
            "DJANGO_SETTINGS_MODULE": "server.settings",
        }

    def command(self, *arguments: str) -> list[str]:
        return [sys.executable, *arguments]

    def run(self, *arguments: str) -> str:
        done = subprocess.run(
            self.command(*arguments),
            cwd=ROOT,
            env=self.environment,
            capture_output=True,
            text=True,
            check=True,
        )
        return done.stdout

    def started(self, *arguments: str) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            self.command(*arguments),
            cwd=ROOT,
            env=self.environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def asked(self, question: str) -> int:
        at = f"file:{self.database}?mode=ro"
        with closing(sqlite3.connect(at, uri=True, timeout=20)) as database:
            return int(database.execute(question).fetchone()[0])

    def write(self) -> None:
        """Write like a request. Raises sqlite3.OperationalError if the lock is not free in time."""
        with closing(sqlite3.connect(self.database, timeout=PATIENCE_SECONDS)) as database:
            database.execute("BEGIN IMMEDIATE")
            database.execute("UPDATE groups_group SET version = version + 1 WHERE name = 'Tern'")
            database.execute("COMMIT")


@pytest.fixture(scope="module")
def place(tmp_path_factory, migrated) -> Place:
    made = Place(tmp_path_factory.mktemp("importing"))
    migrated(made.database)
    told = made.run("-m", "tests.system.import_world", str(made.folder / "tern.zip"))
    made.organiser = told.split()[0]
    return made


def test_others_write_while_it_comes_in(place):
    archive = place.folder / "tern.zip"
    assert archive.stat().st_size > 600_000
    coming = place.started("manage.py", "import_group", str(archive), place.organiser)
    so_far = "SELECT coalesce(max(stored), 0) FROM archives_import WHERE state = 'waiting'"
    written_at, waited = set(), 0.0
    while coming.poll() is None:
        began = time.monotonic()
        place.write()
        waited = max(waited, time.monotonic() - began)
        written_at.add(place.asked(so_far))
        time.sleep(0.02)
    print(f"the longest that a writer waited: {waited:.2f} s")
    assert coming.returncode == 0
    assert len(written_at) > 20, "somebody wrote after so many different steps"
    assert place.asked("SELECT count(*) FROM groups_group WHERE importing = 0") == 2


def test_it_goes_on_after_it_was_killed(place):
    archive = place.folder / "tern.zip"
    before = place.asked("SELECT count(*) FROM groups_membership")
    findings = place.asked("SELECT count(*) FROM viewings_finding")
    coming = place.started("manage.py", "import_group", str(archive), place.organiser)
    so_far = "SELECT coalesce(max(stored), 0) FROM archives_import WHERE state = 'waiting'"
    until(lambda: place.asked(so_far) > 900, every=0.02)
    coming.send_signal(signal.SIGKILL)
    coming.wait()
    assert place.asked("SELECT count(*) FROM groups_group WHERE importing = 1") == 1
    assert place.asked("SELECT count(*) FROM viewings_finding") > findings
    assert place.asked("SELECT count(*) FROM groups_membership") == before, "it is nobody's yet"
    place.run("-c", GO_ON)
    assert place.asked("SELECT count(*) FROM groups_group WHERE importing = 1") == 0
    assert place.asked("SELECT count(*) FROM groups_membership") == before + 4
    each = place.asked("SELECT count(*) FROM viewings_finding") - findings
    assert each == place.asked(
        "SELECT count(*) FROM viewings_finding f JOIN viewings_submission s ON f.submission_id = "
        "s.id JOIN viewings_viewing v ON s.viewing_id = v.id JOIN boats_candidate c ON "
        "v.candidate_id = c.id JOIN boats_candidatelist l ON c.list_id = l.id WHERE l.group_id = "
        "(SELECT id FROM groups_group ORDER BY id LIMIT 1)"
    )


GO_ON = """
import django
django.setup()
from apps.archives import jobs
from apps.archives.models import Import
waiting = Import.objects.get(state="waiting")
Import.objects.update(leased_until=None)
jobs.import_run(import_id=waiting.pk)
"""
