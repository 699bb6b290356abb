"""A small program for a tablet with gauges: it posts a day's readings from yards without signal.

    python gauge.py ADDRESS EMAIL JOURNAL        (the password comes in HARDSTAND_PASSWORD)

It uses the service only through `hardstand_client`, the package that a general-purpose generator
makes from the service's OpenAPI document. Readings are first written to the journal, with ids of
its own, and then sent until each submission has an answer. After a lost answer it sends again, at
once or another day, and nothing is stored twice.
"""

import json
import os
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TypeVar
from uuid import UUID

import httpx
from hardstand_client import AuthenticatedClient, Client
from hardstand_client.api.account import sessions_open
from hardstand_client.api.boats import candidates_list
from hardstand_client.api.findings import submission_batches_create
from hardstand_client.api.groups import groups_list
from hardstand_client.api.lists import lists_list
from hardstand_client.api.visits import checklist_read
from hardstand_client.models import (
    BatchSubmissionBodyRequest,
    ChecklistReadWhere,
    FindingBodyRequest,
    FindingKind,
    MeasuredRequest,
    NewViewingBodyRequest,
    Problem,
    SignInBodyRequest,
    SubmissionBatchBodyRequest,
    SubmissionState,
)
from uuid_utils.compat import uuid7

# Today's readings by unit.
READINGS = {"mm": 1.0, "V": 12.5, "%": 3.0, "ratio": 0.1}
MOST_AT_ONCE = 3
MOST_TRIES = 12
# In a yard no connection lasts from one request to the next.
NETWORK = {"limits": httpx.Limits(max_keepalive_connections=0)}

Answer = TypeVar("Answer")


def persistently(ask: Callable[[], Answer | Problem | None]) -> Answer:
    """The answer, however often the network fails. The request must be safe to repeat."""
    for _ in range(MOST_TRIES):
        try:
            answer = ask()
        except httpx.TransportError:
            time.sleep(0.01)
        else:
            if answer is None or isinstance(answer, Problem):
                raise SystemExit(f"refused: {answer}")
            return answer
    raise SystemExit(f"no answer in {MOST_TRIES} tries: the journal keeps what is to be sent")


def signed_in(address: str, email: str, password: str) -> AuthenticatedClient:
    anonymous = Client(base_url=address, httpx_args=NETWORK)
    body = SignInBodyRequest(email=email, password=password)
    opened = persistently(lambda: sessions_open.sync(client=anonymous, body=body))
    return AuthenticatedClient(base_url=address, token=opened.token, httpx_args=NETWORK)


def boats(client: AuthenticatedClient) -> Iterator[tuple[UUID, UUID]]:
    """Group and candidate of every boat on every list."""
    for group in persistently(lambda: groups_list.sync(client=client)).results:
        lists = persistently(lambda id=group.id: lists_list.sync(id, client=client))
        for one in lists.results:
            found = persistently(lambda id=one.id: candidates_list.sync(id, client=client))
            for boat in found.results:
                yield group.id, boat.id


def readings(client: AuthenticatedClient, candidate: UUID) -> Iterator[FindingBodyRequest]:
    """One for each checkpoint of the boat that a gauge here can measure."""
    ashore = ChecklistReadWhere.ASHORE
    checklist = persistently(lambda: checklist_read.sync(candidate, client=client, where=ashore))
    for place in checklist.places:
        for check in place.possible:
            if check.measure and check.measure.unit in READINGS:
                unit = check.measure.unit
                yield FindingBodyRequest(
                    checkpoint=check.code,
                    kind=FindingKind.LOOKED,
                    measured=MeasuredRequest(value=READINGS[unit], unit=unit),
                )


def a_day(client: AuthenticatedClient) -> Iterator[tuple[UUID, BatchSubmissionBodyRequest]]:
    """Today's readings on every boat, one hour each, with the boat's group."""
    now = datetime.now(UTC)
    for hours_ago, (group, candidate) in enumerate(boats(client), start=1):
        seen_at = now - timedelta(hours=hours_ago)
        yield (
            group,
            BatchSubmissionBodyRequest(
                id=uuid7(),
                new_viewing=NewViewingBodyRequest(
                    id=uuid7(), candidate=candidate, starts_at=seen_at
                ),
                state=SubmissionState.SUBMITTED,
                observed_at=seen_at,
                findings=list(readings(client, candidate)),
            ),
        )


def send(
    client: AuthenticatedClient, group: UUID, noted: list[BatchSubmissionBodyRequest]
) -> dict[str, int]:
    """Send until each has an answer; the status of each by its id."""
    answers: dict[str, int] = {}
    for first in range(0, len(noted), MOST_AT_ONCE):
        batch = noted[first : first + MOST_AT_ONCE]

        def ask(batch: list[BatchSubmissionBodyRequest] = batch) -> object:
            body = SubmissionBatchBodyRequest(submissions=batch, sent_at=datetime.now(UTC))
            return submission_batches_create.sync(group, client=client, body=body)

        results = persistently(ask).results
        answers |= {str(result.id): result.status for result in results}
    return answers


def main(address: str, email: str, journal: Path) -> None:
    client = signed_in(address, email, os.environ["HARDSTAND_PASSWORD"])
    if not journal.exists():
        day = [(str(group), noted.to_dict()) for group, noted in a_day(client)]
        journal.write_text(json.dumps(day))
    noted: dict[str, list[BatchSubmissionBodyRequest]] = {}
    for group, said in json.loads(journal.read_text()):
        noted.setdefault(group, []).append(BatchSubmissionBodyRequest.from_dict(said))
    answers: dict[str, int] = {}
    for group, submissions in noted.items():
        answers |= send(client, UUID(group), submissions)
    json.dump(answers, sys.stdout)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], Path(sys.argv[3]))
