"""Two processes prepare one empty installation at once: both succeed, and it is made once."""

import os
import sqlite3
import subprocess
import sys
from contextlib import closing

import psycopg
import pytest
from django.db import connection

from tests.backups.test_served import address
from tests.system.processes import ROOT


@pytest.fixture
def place(tmp_path):
    """Settings of an empty installation, and how to ask its database one number."""
    if not os.environ.get("DATABASE_URL"):
        database = tmp_path / "hardstand.sqlite3"

        def asked(question: str) -> int:
            with closing(sqlite3.connect(database)) as opened:
                return int(opened.execute(question).fetchone()[0])

        yield {}, asked
        return
    name = f"prepare_{os.getpid()}"
    with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as server:
        server.execute(f"DROP DATABASE IF EXISTS {name}")
        server.execute(f"CREATE DATABASE {name}")

        def asked(question: str) -> int:
            with psycopg.connect(address(name)) as opened:
                return int(opened.execute(question).fetchone()[0])

        yield {"DATABASE_URL": address(name)}, asked
        server.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.mark.django_db  # so that the pass on PostgreSQL runs it too
def test_two_at_once(place, tmp_path):
    environment, asked = place
    assert connection.vendor
    both = [
        subprocess.Popen(
            [sys.executable, "manage.py", "prepare", "--verbosity=0", "--skip-checks"],
            cwd=ROOT,
            env={**os.environ, **environment, "HARDSTAND_DATA_DIR": str(tmp_path)},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        for _ in range(2)
    ]
    said = [process.communicate()[0] for process in both]
    assert [process.returncode for process in both] == [0, 0], said
    assert sum("Loaded edition 1" in text for text in said) == 1
    assert sum("Unchanged" in text for text in said) == 1
    assert asked("SELECT count(*) FROM catalogue_edition") == 1
    assert asked("SELECT count(*) - count(DISTINCT app || name) FROM django_migrations") == 0
