"""Copies the database as it is at one moment, and puts such a copy into an empty database."""

import os
import re
import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from django.db import connection
from psycopg.conninfo import make_conninfo

from server.backups.manifest import BackupFailed

COPIES = {"sqlite": "database.sqlite3", "postgresql": "database.dump"}
# What both tools need to know about the connection, except the password.
ADDRESS = ("host", "port", "user", "dbname", "sslmode", "sslrootcert", "sslcert", "sslkey")


@contextmanager
def snapshot() -> Iterator[None]:
    """All reads inside see the database as it is at the beginning; writers do not wait.

    A transaction by hand: Django's own would take SQLite's lock for writing.
    """
    postgresql = connection.vendor == "postgresql"
    with connection.cursor() as cursor:
        cursor.execute(
            "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY" if postgresql else "BEGIN DEFERRED"
        )
        try:
            connection.introspection.table_names(cursor)  # the moment is that of the first read
            yield
        finally:
            cursor.execute("ROLLBACK")


def database_copy(folder: Path) -> Path:
    """Copy what `snapshot` sees. Raises `BackupFailed`."""
    copy = folder / COPIES[connection.vendor]
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_export_snapshot()")
            seen = cursor.fetchone()[0]
        _run(
            "pg_dump",
            "--format=custom",
            f"--snapshot={seen}",
            f"--file={copy}",
            "--lock-wait-timeout=60s",
        )
        return copy
    with closing(sqlite3.connect(copy)) as target:
        connection.connection.backup(target)
        target.execute("PRAGMA journal_mode=DELETE")  # one file, without a log beside it
        (found,) = target.execute("PRAGMA quick_check").fetchone()
    if found != "ok":
        raise BackupFailed(f"The database is damaged: {found}")
    return copy


def database_restore(copy: Path) -> None:
    """Put the copy into the empty database. Raises `BackupFailed`, with nothing changed."""
    if connection.vendor == "postgresql":
        _run("pg_restore", "--single-transaction", "--exit-on-error", str(copy))
        return
    database = Path(connection.settings_dict["NAME"])
    connection.close()
    for left in ("-wal", "-shm"):
        database.with_name(database.name + left).unlink(missing_ok=True)
    beside = database.with_name(database.name + ".restoring")
    shutil.copy(copy, beside)
    flush(beside)
    os.replace(beside, database)
    flush(database.parent)


def tables() -> dict[str, int]:
    """The rows of each table."""
    found = {}
    with connection.cursor() as cursor:
        for name in sorted(connection.introspection.table_names(cursor)):
            cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(name)}")  # noqa: S608
            found[name] = cursor.fetchone()[0]
    return found


def flush(path: Path) -> None:
    """Wait until the file or folder is on the disk."""
    opened = os.open(path, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def _run(tool: str, *arguments: str) -> None:
    """Run PostgreSQL's tool on our database. Raises `BackupFailed`."""
    require_tool(tool)
    given = connection.get_connection_params()
    address = {name: given[name] for name in ADDRESS if given.get(name)}
    # The password is not among the arguments, which everybody on the machine can see.
    password = {"PGPASSWORD": str(given["password"])} if given.get("password") else {}
    done = subprocess.run(  # noqa: S603 - a fixed command
        [tool, "--no-owner", "--no-privileges", f"--dbname={make_conninfo(**address)}", *arguments],
        env={**os.environ, **password},
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise BackupFailed(f"{tool} failed:\n{done.stderr.strip()}")


def require_tool(tool: str) -> None:
    """Raise `BackupFailed` unless the tool is there, and of the server's major version."""
    if shutil.which(tool) is None:
        raise BackupFailed(
            f"{tool} is missing. Install PostgreSQL's client programs of the server's version."
        )
    answer = subprocess.run([tool, "--version"], capture_output=True, text=True, check=True)  # noqa: S603
    number = re.search(r"\) (\d+)", answer.stdout)
    server = connection.cursor().connection.info.server_version // 10000
    if number is None or int(number[1]) != server:
        raise BackupFailed(
            f"The server is PostgreSQL {server}, but this is {answer.stdout.strip()!r}. "
            f"Install version {server} of the client programs."
        )
