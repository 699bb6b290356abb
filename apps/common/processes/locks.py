"""Locks that exclude other processes of the installation, for operators' commands.

On PostgreSQL an advisory lock of the database; on SQLite, whose processes share a machine, a lock
on a file in the data folder. Both end with the process that holds them.
"""

import fcntl
import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager

from django.conf import settings
from django.db import connection


class LockHeld(Exception):
    """Another process has the lock."""


@contextmanager
def exclusive(name: str, *, wait: bool) -> Iterator[None]:
    """Hold the lock alone. Waits for another holder, or raises `LockHeld` at once.

    On PostgreSQL the lock belongs to the connection: keep it open inside.
    """
    held = _advisory(name, wait) if connection.vendor == "postgresql" else _file(name, wait)
    with held:
        yield


def is_held(name: str) -> bool:
    """Whether another process holds the lock at this moment. One query on PostgreSQL."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_try_advisory_xact_lock_shared(%s)", [_number(name)])
            return not cursor.fetchone()[0]
    with _opened(name) as lock:
        return not _flock(lock, fcntl.LOCK_SH | fcntl.LOCK_NB)


@contextmanager
def _advisory(name: str, wait: bool) -> Iterator[None]:
    with connection.cursor() as cursor:
        if wait:
            cursor.execute("SET lock_timeout = 0")  # the settings' limit is for requests
            cursor.execute("SELECT pg_advisory_lock(%s)", [_number(name)])
            cursor.execute("RESET lock_timeout")
        else:
            cursor.execute("SELECT pg_try_advisory_lock(%s)", [_number(name)])
            if not cursor.fetchone()[0]:
                raise LockHeld(name)
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_unlock(%s)", [_number(name)])


@contextmanager
def _file(name: str, wait: bool) -> Iterator[None]:
    with _opened(name) as lock:
        if not _flock(lock, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB)):
            raise LockHeld(name)
        yield


@contextmanager
def _opened(name: str) -> Iterator[int]:
    settings.DATA_DIR.mkdir(parents=True, exist_ok=True)
    lock = os.open(settings.DATA_DIR / f"{name}.lock", os.O_RDWR | os.O_CREAT, 0o600)
    try:
        yield lock
    finally:
        os.close(lock)


def _flock(lock: int, how: int) -> bool:
    try:
        fcntl.flock(lock, how)
    except BlockingIOError:
        return False
    return True


def _number(name: str) -> int:
    """The advisory lock's number, a signed integer of 64 bits."""
    digest = hashlib.sha256(f"hardstand {name}".encode()).digest()
    return int.from_bytes(digest[:8], "big", signed=True)
