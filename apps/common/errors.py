"""The errors by which services refuse.

Services raise these; the HTTP layer turns them into problem details (RFC 9457).
"""

import errno
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import TypeVar

Record = TypeVar("Record")


@dataclass(frozen=True)
class FieldFault:
    """One fault of a request: `pointer` is a JSON pointer into the body (RFC 6901)."""

    pointer: str
    code: str
    detail: str


class ServiceError(Exception):
    """Base of all refusals that a caller can understand and act on."""


@dataclass(eq=False)
class Invalid(ServiceError):
    """The body can be read but not accepted; every fault names its field."""

    faults: list[FieldFault] = field(default_factory=list)

    @classmethod
    def at(cls, pointer: str, code: str, detail: str) -> "Invalid":
        return cls([FieldFault(pointer, code, detail)])


class NotVisible(ServiceError):
    """The record does not exist for this reader."""


def visible(record: Record | None) -> Record:
    """The record. Raises `NotVisible` if there is none."""
    if record is None:
        raise NotVisible
    return record


@dataclass(eq=False)
class NotAllowed(ServiceError):
    """The reader sees the record but may not do this; `roles` may."""

    detail: str
    roles: tuple[str, ...] = ()

    def __init__(self, detail: str, roles: Iterable[str] = ()) -> None:
        self.detail = detail
        self.roles = tuple(roles)


class Stale(ServiceError):
    """Somebody changed the record after it was read."""


@dataclass(eq=False)
class Conflict(ServiceError):
    """The request contradicts what is stored."""

    code: str
    detail: str


@dataclass(eq=False)
class Gone(ServiceError):
    """The record existed but is not kept any more."""

    code: str
    detail: str


@dataclass(eq=False)
class StorageFailed(ServiceError):
    """The file storage is away, full, or does not return what was stored.

    It is never the fault of a file: acknowledged files are kept and tried again.
    """

    file_missing: bool = False
    full: bool = False


@contextmanager
def storage_at_work() -> Iterator[None]:
    """Turn all errors of a storage (disk, network, client library) into `StorageFailed`."""
    try:
        yield
    except Exception as error:
        missing = isinstance(error, FileNotFoundError)
        raise StorageFailed(file_missing=missing, full=is_full(error)) from error


def is_full(error: BaseException) -> bool:
    """Whether the disk, or the share of it that we may use, is full."""
    return isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT)


@contextmanager
def pointing_into(pointer: str) -> Iterator[None]:
    """Put this pointer before those of faults raised inside."""
    try:
        yield
    except Invalid as refused:
        raise Invalid(
            [replace(fault, pointer=pointer + fault.pointer) for fault in refused.faults]
        ) from refused


def require_no_faults(faults: list[FieldFault]) -> None:
    """Raise `Invalid` with all faults at once, so that a client can correct them together."""
    if faults:
        raise Invalid(faults)
