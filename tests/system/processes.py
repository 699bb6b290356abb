"""The service's processes, started as an operator would, and a gate in front of its broker."""

import fcntl
import json
import os
import shutil
import signal
import socket
import socketserver
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

ROOT = Path(__file__).resolve().parents[2]
SERVED = ("DATABASE_URL", "REDIS_URL")


def until(holds: Callable[[], object], seconds: float = 60.0, every: float = 0.1) -> None:
    """Wait until the condition holds, or fail."""
    ends = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < ends, f"did not come to hold within {seconds} s"
        time.sleep(every)


def migrated_copy(shared: Path, database: Path) -> None:
    """A migrated database with the catalogue, as a first start makes it.

    It is made once in the folder that workers share, and copied, because making it takes 20
    seconds.
    """
    made = shared / "migrated"
    made.mkdir(exist_ok=True)
    with (made / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (made / "done").exists():
            environment = {k: v for k, v in os.environ.items() if k not in SERVED}
            manage(
                environment | {"HARDSTAND_DATA_DIR": str(made)},
                ["migrate", "--verbosity=0"],
                ["load_catalogue"],
            )
            (made / "done").touch()
    shutil.copy(made / "hardstand.sqlite3", database)


def manage(environment: Mapping[str, str], *commands: Sequence[str]) -> None:
    """Run commands of manage.py, all in one process, because each start takes seconds."""
    told = [sys.executable, "-c", MANAGE, json.dumps(commands)]
    subprocess.run(told, cwd=ROOT, env=environment, check=True, capture_output=True)


MANAGE = """
import json, os, sys
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "server.settings")
from django.core.management import execute_from_command_line
for command in json.loads(sys.argv[1]):
    execute_from_command_line(["manage.py", *command, "--skip-checks"])
"""


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Process:
    """One process of the service, in its own session, with a log."""

    def __init__(self, *command: str, log: Path, environment: Mapping[str, str]) -> None:
        self.log = log
        with log.open("a") as out:
            self.running = subprocess.Popen(
                [sys.executable, *command],
                cwd=ROOT,
                env={**os.environ, **environment},
                stdout=out,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )

    def says(self, words: str) -> bool:
        assert self.running.poll() is None, f"it ended:\n{self.log.read_text()[-4000:]}"
        return words in self.log.read_text()

    def kill(self) -> None:
        """kill -9 the process and its children, so that nothing is cleaned up."""
        os.killpg(self.running.pid, signal.SIGKILL)
        self.running.wait()

    def end(self, within: float = 40.0) -> int:
        """Ask it to stop, as an operator does; return its exit status."""
        self.running.send_signal(signal.SIGTERM)
        try:
            return self.running.wait(within)
        except subprocess.TimeoutExpired:
            self.kill()
            raise


@contextmanager
def running(process: Process) -> Iterator[Process]:
    try:
        yield process
    finally:
        if process.running.poll() is None:
            process.kill()


def answers(address: str) -> bool:
    try:
        with urlopen(f"{address}/health/ready", timeout=5):
            return True
    except (URLError, ConnectionError, TimeoutError):
        return False


class Gate(socketserver.ThreadingTCPServer):
    """A gate in front of the broker or database that passes, refuses or ignores connections.

    open: connections are passed on. closed: every connection is cut at once, as without a broker.
    hung: connections are accepted but get no answer, as from a machine that has stopped.
    silent: the same, and those that are open stay so.
    """

    allow_reuse_address = True
    daemon_threads = True

    def __init__(self, host: str, port: int) -> None:
        self.behind = (host, port)
        self.state = "open"
        self.passing: set[socket.socket] = set()
        super().__init__(("127.0.0.1", 0), Passage)
        threading.Thread(target=self.serve_forever, daemon=True).start()

    @property
    def port(self) -> int:
        return int(self.server_address[1])

    def become(self, state: str) -> None:
        self.state = state
        if state == "silent":
            return
        for connection in list(self.passing):
            with suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)  # a thread that reads it wakes up
            connection.close()
        self.passing.clear()


class Passage(socketserver.BaseRequestHandler):
    server: Gate

    def handle(self) -> None:
        if self.server.state == "closed":
            return
        if self.server.state == "hung":
            while self.server.state == "hung":
                time.sleep(0.1)
            return
        with socket.create_connection(self.server.behind) as broker:
            ends = {self.request, broker}
            self.server.passing |= ends
            back = threading.Thread(target=self.copy, args=(broker, self.request), daemon=True)
            back.start()
            self.copy(self.request, broker)
            back.join()
            self.server.passing -= ends

    def copy(self, source: socket.socket, sink: socket.socket) -> None:
        with suppress(OSError):
            while data := source.recv(65536):
                while self.server.state == "silent":
                    time.sleep(0.05)
                sink.sendall(data)
        for end in (source, sink):
            with suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
