"""Records events about a candidate's viewings and findings."""

import uuid
from typing import Any

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.common.models import Versioned
from apps.events.services import event_record


def record_event(
    kind: str,
    record: Versioned,
    candidate: Candidate,
    by: Person | None,
    *,
    deleted: bool = False,
    only_for: uuid.UUID | None = None,
    **facts: Any,
) -> None:
    """Record the event `kind` ("viewing.added") about a record; last in its transaction.

    by: None if a job did it.
    """
    event_record(
        group_id=candidate.list.group_id,
        kind=kind,
        thing=kind.partition(".")[0],
        thing_id=record.id,
        thing_version=record.version,
        by_id=by.id if by else None,
        deleted=deleted,
        only_for=only_for,
        facts={"list": str(candidate.list_id), "candidate": str(candidate.id), **facts},
    )
