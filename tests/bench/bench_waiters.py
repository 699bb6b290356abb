"""Readers beside 500 requests that wait for results which do not come (`?wait=10`).

Run by name: python -m tests.bench.bench_waiters [PROCESSES]. The demo's story is played on the
embedded default. Then the web server alone is started on its data, as in the container but without
a worker, so that the list stays behind. Wanted: the p99 of reads with the waiters is at most 1.5
times that without them, and /health/live answers at once.

Baseline, timed in turns with it in the same run: the same readers without the waiters.
"""

import asyncio
import math
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from dataclasses import dataclass
from pathlib import Path

from server.demo.client import Client, over_http
from server.demo.play import PASSWORD, Player
from server.demo.scenario import read_scenario
from server.demo.service import Folder, Service
from tests.system.processes import ROOT, answers, free_port, until

WAITERS, READERS, SECONDS, ROUNDS, WANTED = 500, 4, 15.0, 4, 1.5
WAIT = 10
PAUSE = 0.05  # between the reads of one reader
STORY = ROOT / "fixtures" / "demo"


@dataclass
class Reads:
    seconds: list[float]
    health: list[float]

    def p99(self) -> float:
        ordered = sorted(self.seconds)
        return ordered[math.ceil(0.99 * len(ordered)) - 1]


async def ask(port: int, path: str, token: str) -> int:
    """The status of the answer, by a connection of its own. No library: it must cost little."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    try:
        lines = f"GET {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n"
        writer.write(f"{lines}Authorization: Bearer {token}\r\n\r\n".encode())
        answer = await reader.read()
        return int(answer.split(maxsplit=2)[1])
    finally:
        writer.close()


async def read_on(port: int, path: str, token: str, ends: float, into: list[float]) -> None:
    while time.monotonic() < ends:
        started = time.perf_counter()
        status = await ask(port, path, token)
        if status != 200:
            raise RuntimeError(f"{path}: {status}")
        into.append(time.perf_counter() - started)
        await asyncio.sleep(PAUSE)


async def reads(port: int, path: str, token: str) -> Reads:
    ends, of_boards, of_health = time.monotonic() + SECONDS, [], []  # type: ignore[var-annotated]
    await asyncio.gather(
        *(read_on(port, path, token, ends, of_boards) for _ in range(READERS)),
        read_on(port, "/health/live", token, ends, of_health),
    )
    return Reads(of_boards, of_health)


@asynccontextmanager
async def waiters(port: int, path: str, token: str) -> AsyncIterator[None]:
    """So many clients, each of which asks again as soon as it has an answer."""

    async def wait_on(first: float) -> None:
        await asyncio.sleep(first)
        while True:
            await ask(port, f"{path}?wait={WAIT}", token)

    # They come one after another, as people do: later answers are then spread in the same way.
    asking = [asyncio.create_task(wait_on(WAIT * n / WAITERS)) for n in range(WAITERS)]
    await asyncio.sleep(1.5 * WAIT)
    try:
        yield
    finally:
        for one in asking:
            one.cancel()
        await asyncio.gather(*asking, return_exceptions=True)


@contextmanager
def web_alone(service: Service, port: int, processes: int) -> Iterator[None]:
    command = ["gunicorn", "server.wsgi", "--config=python:server.web", f"--workers={processes}"]
    with (service.folder.path / "web.log").open("a") as log:
        running = subprocess.Popen(
            [sys.executable, "-m", *command, f"--bind=127.0.0.1:{port}"],
            cwd=ROOT,
            env={**service.environment, "RATE_PERSON": "0/60", "RATE_CLIENT": "0/60"},
            stdout=log,
            stderr=subprocess.STDOUT,
        )
    try:
        until(lambda: answers(f"http://127.0.0.1:{port}"))
        yield
    finally:
        running.terminate()
        running.wait(60)


async def compare(port: int, path: str, token: str) -> tuple[list[Reads], list[Reads]]:
    await reads(port, path, token)  # everything is loaded then
    alone, beside = [], []
    for _ in range(ROUNDS):
        alone.append(await reads(port, path, token))
        async with waiters(port, path, token):
            beside.append(await reads(port, path, token))
        await asyncio.sleep(5)
    return alone, beside


def main() -> None:
    processes = int(sys.argv[1]) if len(sys.argv) > 1 else 2
    with tempfile.TemporaryDirectory() as folder:
        data = Folder(Path(folder) / "bench")
        data.prepare()
        service = Service(data, None)
        with service.running():
            story = read_scenario(STORY)
            person = story.organiser
            service.manage(
                "add_person", person["email"], person["name"], HARDSTAND_PASSWORD=PASSWORD
            )
            service.manage("add_group", story.group["name"], person["email"])
            player = Player(story, over_http(service.address), lambda line: None)
            played = player.play()
            board = f"/api/v1/lists/{played.list_id}/board"
            player.first.get(f"/lists/{played.list_id}/board?wait=30")
        port = free_port()
        with web_alone(service, port, processes):
            token = player.first.headers["Authorization"].removeprefix("Bearer ")
            first = Client(over_http(f"http://127.0.0.1:{port}"), token)
            submit(first, next(iter(played.boats.values())))  # the list is behind from now on
            alone, beside = asyncio.run(compare(port, board, token))
    report(alone, beside)


def submit(client: Client, candidate: str) -> None:
    starts = {"starts_at": "2026-05-02T10:00:00Z", "state": "made"}
    viewing = client.post(f"/candidates/{candidate}/viewings", starts)
    finding = {"checkpoint": "anodes", "kind": "looked", "level": 2}
    body = {"state": "submitted", "findings": [finding]}
    client.post(f"/viewings/{viewing['id']}/submissions", body)


def report(alone: list[Reads], beside: list[Reads]) -> None:
    ratios = [b.p99() / a.p99() for a, b in zip(alone, beside, strict=True)]
    for name, rounds in (("alone", alone), (f"beside {WAITERS} waiters", beside)):
        p99 = statistics.median(one.p99() for one in rounds)
        middle = statistics.median(x for one in rounds for x in one.seconds)
        health = max(x for one in rounds for x in one.health)
        count = sum(len(one.seconds) for one in rounds)
        print(
            f"{name}: {count} reads, median {1000 * middle:.0f} ms, p99 {1000 * p99:.0f} ms; "
            f"/health/live at most {1000 * health:.0f} ms"
        )
    ratio = statistics.median(ratios)
    print(f"p99 beside waiters to p99 alone: {ratio:.2f} (rounds: {[round(r, 2) for r in ratios]})")
    print(f"wanted: {WANTED}: {'met' if ratio <= WANTED else 'NOT met'}")


if __name__ == "__main__":
    main()
