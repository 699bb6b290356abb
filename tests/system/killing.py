"""People who write while processes are killed, and repeat until they get an answer."""

import json
import threading
import time
import uuid
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from http.client import HTTPException
from typing import Any

from server.demo.client import API, Answer, Client, Transport
from tests.appraisal.building import PARTICULARS
from tests.archives.conftest import picture
from tests.system.processes import until

CHECKED = ("engine-oil", "deck-cracks", "keel-joint-line", "blister-depth", "ports-and-leaks")
BOUNDARY = "a-line-between-the-fields"
PICTURE = picture().read()
# Seconds, for a slow machine: how long anything may take to be there again after a kill.
PATIENCE = 300.0


def repeated(send: Transport, gave_up: threading.Event) -> Transport:
    """The same requests, each sent again until the service answers it.

    A request that was cut off, or is still at work, was perhaps carried out: as a client should, it
    repeats with the same headers and so with the same Idempotency-Key.
    """

    def sent(method: str, path: str, body: bytes | None, headers: dict[str, str]) -> Answer:
        while not gave_up.is_set():
            try:
                answer = send(method, path, body, headers)
            except (OSError, HTTPException):
                time.sleep(0.1)
                continue
            if answer.status == 503 or (answer.status == 409 and b"still_running" in answer.body):
                time.sleep(0.1)
                continue
            return answer
        raise AssertionError("the service did not answer")

    return sent


@dataclass(frozen=True)
class Place:
    """Where people write: a group's list, its boats and visits. `cursor`: of the feed before."""

    group: str
    list_id: str
    boats: list[str]
    visits: list[str]
    person: str
    cursor: str

    @classmethod
    def made(cls, ola: Client) -> "Place":
        """A list of a few boats, one visit to each, and common money."""
        (group,) = ola.pages("/groups")
        at = f"/groups/{group['id']}"
        brief = {"currency": "EUR", "budget": {"amount": "90000.00", "currency": "EUR"}}
        listed = ola.post(f"{at}/lists", {"name": "Spring", "brief": brief})
        ola.put(f"{at}/ledger", {"currency": "EUR"})
        boats = [
            ola.post(f"/lists/{listed['id']}/candidates", {"name": f"Boat {n}", **PARTICULARS})
            for n in range(4)
        ]
        visit = {"starts_at": "2026-01-10T10:00:00Z", "state": "made"}
        visits = [ola.post(f"/candidates/{boat['id']}/viewings", visit)["id"] for boat in boats]
        return cls(
            group["id"],
            listed["id"],
            [boat["id"] for boat in boats],
            visits,
            ola.get("/people/me")["id"],
            ola.get("/changes")["cursor"],
        )


@dataclass
class Writer:
    """One person at one phone. `told`: what was acknowledged, by kind: the text and its id."""

    client: Client
    place: Place
    name: str
    told: dict[str, dict[str, str]] = field(default_factory=dict)
    fault: Exception | None = None

    def write_until(self, over: threading.Event) -> None:
        try:
            for n in self._turns(over):
                for kind, write in self.writes.items():
                    text = f"{kind} {n} of {self.name}"
                    self.told.setdefault(kind, {})[text] = write(n, text)["id"]
        except Exception as fault:  # it ends the thread; the test raises it
            self.fault = fault

    def _turns(self, over: threading.Event) -> Iterator[int]:
        n = 0
        while not over.is_set():
            yield n
            n += 1
            time.sleep(0.05)

    @property
    def writes(self) -> dict[str, Callable[[int, str], Any]]:
        return {"submission": self.submit, "entry": self.pay, "photo": self.photograph}

    def submit(self, n: int, text: str) -> Any:
        findings = [{"checkpoint": c, "kind": "looked", "level": n % 4} for c in CHECKED]
        body = {"state": "submitted", "findings": findings, "note": text}
        return self.client.post(f"/viewings/{self._visit(n)}/submissions", body)

    def pay(self, n: int, text: str) -> Any:
        body = {
            "what": text,
            "paid_by": self.place.person,
            "paid": {"amount": f"{n + 1}.00", "currency": "EUR"},
            "paid_on": "2025-04-20",
            "rule": "equal",
        }
        return self.client.post(f"/groups/{self.place.group}/expenses", body)

    def photograph(self, n: int, text: str) -> Any:
        lines = (
            f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="note"\r\n\r\n{text}\r\n'
            f'--{BOUNDARY}\r\nContent-Disposition: form-data; name="file"; filename="a.jpg"\r\n\r\n'
        )
        form = lines.encode() + PICTURE + f"\r\n--{BOUNDARY}--\r\n".encode()
        headers = {
            **self.client.headers,
            "Content-Type": f"multipart/form-data; boundary={BOUNDARY}",
            "Idempotency-Key": str(uuid.uuid4()),
        }
        path = f"{API}/viewings/{self._visit(n)}/photos"
        answer = self.client.transport("POST", path, form, headers)
        assert answer.status == 201, answer.body
        return json.loads(answer.body)

    def _visit(self, n: int) -> str:
        return self.place.visits[n % len(self.place.visits)]


def nothing_is_lost_or_doubled(reader: Client, place: Place, writers: list[Writer]) -> None:
    """Compare everything that was acknowledged with what the service now shows."""
    shown = {
        "submission": [
            s for b in place.boats for s in reader.pages(f"/candidates/{b}/submissions")
        ],
        "entry": list(reader.pages(f"/groups/{place.group}/ledger-entries")),
        "photo": [p for boat in place.boats for p in reader.pages(f"/candidates/{boat}/photos")],
    }
    for kind, rows in shown.items():
        told = {text: made for writer in writers for text, made in writer.told[kind].items()}
        text = "what" if kind == "entry" else "note"
        assert Counter(row[text] for row in rows) == Counter(told.keys()), kind
        assert {row[text]: row["id"] for row in rows} == told
    assert {len(row["findings"]) for row in shown["submission"]} == {len(CHECKED)}
    of_money = [n + 1 for writer in writers for n in range(len(writer.told["entry"]))]
    (paid,) = [
        row["paid"]
        for row in reader.get(f"/groups/{place.group}/ledger")["balances"]
        if row["person"]["id"] == place.person
    ]
    assert float(paid) == sum(of_money)
    made = {row["id"] for rows in shown.values() for row in rows}
    the_feed_is_whole(reader, place.cursor, made)


def the_feed_is_whole(reader: Client, since: str, made: set[str]) -> None:
    """The feed names every record that was made, and nothing happened to it twice."""
    told: list[tuple[str, str]] = []
    more = True
    while more:
        page = reader.get(f"/changes?since={since}")
        told += [(change["kind"], change["thing_id"]) for change in page["results"]]
        since, more = page["cursor"], page["more"]
    of_made = Counter(change for change in told if change[1] in made)
    assert {thing for _, thing in of_made} == made
    assert max(of_made.values()) == 1


def all_work_is_done(reader: Client, place: Place) -> None:
    """The board counts the last finding, and every photo is ready to be looked at."""

    def photos() -> set[str]:
        return {p["state"] for b in place.boats for p in reader.pages(f"/candidates/{b}/photos")}

    until(lambda: reader.get(f"/lists/{place.list_id}/board?wait=5")["fresh"], seconds=PATIENCE)
    until(lambda: photos() <= {"ready"}, seconds=PATIENCE, every=0.5)
