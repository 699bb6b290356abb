"""What a service may refuse, said once where the fact is known.

Services raise these; the HTTP layer turns them into problem details (RFC 9457).
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace


@dataclass(frozen=True)
class FieldFault:
    """One thing wrong with what was sent: `pointer` is a JSON pointer into the body (RFC 6901)."""

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
    """To this reader the thing does not exist."""


@dataclass(eq=False)
class NotAllowed(ServiceError):
    """The reader sees the thing but may not do this; says which roles could."""

    detail: str
    roles: tuple[str, ...] = ()

    def __init__(self, detail: str, roles: Iterable[str] = ()) -> None:
        self.detail = detail
        self.roles = tuple(roles)


class Stale(ServiceError):
    """Somebody changed the thing after it was read."""


@dataclass(eq=False)
class Conflict(ServiceError):
    """What is asked contradicts what is stored already."""

    code: str
    detail: str


@dataclass(eq=False)
class Gone(ServiceError):
    """What is asked for was there once and is not kept any more."""

    code: str
    detail: str


@dataclass(eq=False)
class StorageFailed(ServiceError):
    """The storage of files is away, full, or does not give what it was given.

    Never the fault of a file: whatever was acknowledged is kept, and tried again.
    """

    file_missing: bool = False


@contextmanager
def storage_at_work() -> Iterator[None]:
    """Whatever a storage raises (a full disk, a network, a client library) is one refusal."""
    try:
        yield
    except Exception as error:
        raise StorageFailed(file_missing=isinstance(error, FileNotFoundError)) from error


@contextmanager
def pointing_into(pointer: str) -> Iterator[None]:
    """What is refused inside lies under this pointer in the whole body."""
    try:
        yield
    except Invalid as refused:
        raise Invalid(
            [replace(fault, pointer=pointer + fault.pointer) for fault in refused.faults]
        ) from refused


def require_no_faults(faults: list[FieldFault]) -> None:
    """Raise `Invalid` with all faults at once, so that a client mends them in one go."""
    if faults:
        raise Invalid(faults)
