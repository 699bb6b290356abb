"""The doors a request went through, so that its repeat goes through them again.

A idempotency records may outlive what let its receiver in. Whatever lets somebody into a group or a
club notes the door on the person of the request; before the answer is given again, every door that
was noted is tried once more.
"""

import uuid
from collections.abc import Callable, Iterable
from typing import Any

from apps.common.errors import NotVisible

# Whom a door lets in raises nothing; the others get what it raises.
Check = Callable[[Any, uuid.UUID, str], object]
_checks: dict[str, Check] = {}


def access_check_register(kind: str, check: Check) -> None:
    """check: called with the person, the id of what is behind it, and what is wanted there."""
    _checks[kind] = check


def access_check_record(person: Any, kind: str, id: uuid.UUID, wanted: str) -> None:
    person.access_checks = (*person.access_checks, (kind, str(id), wanted))


def access_checks_repeat(person: Any, access_checks: Iterable[tuple[str, str, str]]) -> None:
    """Raises what the first door that stays shut raises; one that is no more stays shut."""
    for kind, id, wanted in access_checks:
        if kind not in _checks:
            raise NotVisible
        _checks[kind](person, uuid.UUID(id), wanted)
