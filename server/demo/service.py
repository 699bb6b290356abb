"""Runs the service in its own process: embedded, on this machine only, with its own data folder."""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

ROOT = Path(__file__).resolve().parents[2]
HOST = "127.0.0.1"
USUAL_PORT = 8000
READY_SECONDS = 120
STOP_SECONDS = 30
# Settings of an installation's own database and broker: the story must not be written there.
NOT_FOR_THE_DEMO = ("DATABASE_URL", "REDIS_URL")


class CannotRun(Exception):
    """The demo cannot continue; the message tells the user why."""


class Folder:
    """The demo's data: the service's database, its log, and how far the story got.

    A folder with other data is not touched. A story that broke off starts again.
    """

    def __init__(self, path: Path) -> None:
        self.path = path.resolve()
        self.log = self.path / "service.log"
        self._mark = self.path / "demo-story"

    def prepare(self) -> bool:
        """Prepare the folder; True if it contains the whole story already."""
        if not self._mark.exists() and self.path.exists() and any(self.path.iterdir()):
            raise CannotRun(
                f"{self.path} holds data that is not the demo's. Choose another --data."
            )
        if self._mark.exists() and self._mark.read_text() == "printed_already":
            return True
        shutil.rmtree(self.path, ignore_errors=True)
        self.path.mkdir(parents=True)
        self._mark.write_text("begun")
        return False

    def printed_already(self) -> None:
        self._mark.write_text("printed_already")


class Service:
    def __init__(self, folder: Folder, port: int | None) -> None:
        self.folder = folder
        self.port = port or _free_port()
        self.address = f"http://{HOST}:{self.port}"
        self.environment = {k: v for k, v in os.environ.items() if k not in NOT_FOR_THE_DEMO}
        self.environment |= {"HARDSTAND_DATA_DIR": str(folder.path), "DEMO": "true"}

    @contextmanager
    def running(self) -> Iterator[None]:
        command = [sys.executable, "manage.py", "serve", "--bind", f"{HOST}:{self.port}"]
        with self.folder.log.open("a") as log:
            process = subprocess.Popen(  # noqa: S603
                command,
                cwd=ROOT,
                env=self.environment,
                stdout=log,
                stderr=subprocess.STDOUT,
                # Only the demo gets Ctrl-C; it then stops the service cleanly.
                start_new_session=True,
            )
        try:
            self._wait_until_ready(process)
            yield
        finally:
            _end(process)

    def _wait_until_ready(self, process: subprocess.Popen[bytes]) -> None:
        give_up = time.monotonic() + READY_SECONDS
        while time.monotonic() < give_up:
            if process.poll() is not None:
                raise CannotRun(f"The service did not start:\n{self._end_of_log()}")
            try:
                with urlopen(f"{self.address}/health/ready", timeout=5):  # noqa: S310
                    return
            except (URLError, TimeoutError, ConnectionError):
                time.sleep(0.2)
        raise CannotRun(f"The service is not ready after {READY_SECONDS} s: see {self.folder.log}")

    def _end_of_log(self) -> str:
        return "\n".join(self.folder.log.read_text().splitlines()[-15:])

    def manage(self, *arguments: str, **environment: str) -> str:
        """Run an operator's command beside the running service; return what it prints."""
        done = subprocess.run(  # noqa: S603
            [sys.executable, "manage.py", *arguments, "--skip-checks"],
            cwd=ROOT,
            env={**self.environment, **environment},
            capture_output=True,
            text=True,
            check=False,
        )
        if done.returncode:
            raise CannotRun(f"manage.py {arguments[0]} failed:\n{done.stderr.strip()[-2000:]}")
        return done.stdout


def _free_port() -> int:
    """The usual port if nobody listens there, or any free one."""
    for port in (USUAL_PORT, 0):
        with socket.socket() as probe:
            # Like the server: a port that was released a moment ago is free.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((HOST, port))
            except OSError:
                continue
            return int(probe.getsockname()[1])
    raise CannotRun("There is no free port.")


def _end(process: subprocess.Popen[bytes]) -> None:
    """Ask the process to finish, and kill it if that takes too long."""
    if process.poll() is not None:
        return
    process.send_signal(signal.SIGTERM)
    try:
        process.wait(STOP_SECONDS)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
