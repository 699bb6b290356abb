"""The processes of a served installation on the tests' database, started by hand."""

import time
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from django.conf import settings
from django.db import connection

from tests.system.processes import Gate, Process


@dataclass
class Installation:
    """The processes' settings: the database of the tests, and the broker behind the gate."""

    folder: Path
    gate: Gate
    environment: dict[str, str]

    @classmethod
    def of_the_tests(cls, folder: Path, worker_id: str) -> "Installation":
        redis = urlsplit(settings.REDIS_URL)
        gate = Gate(redis.hostname or "127.0.0.1", redis.port or 6379)
        # Runs of the tests side by side keep to Redis databases of their own.
        number = 10 + (int(worker_id.removeprefix("gw")) if worker_id != "master" else 0) % 5
        own = connection.settings_dict
        place = f"{own['HOST'] or ''}:{own['PORT']}" if own["PORT"] else own["HOST"]
        password = f":{own['PASSWORD']}" if own["PASSWORD"] else ""
        environment = {
            "DATABASE_URL": f"postgres://{own['USER']}{password}@{place}/{own['NAME']}",
            "REDIS_URL": f"redis://127.0.0.1:{gate.port}/{number}",
            "SECRET_KEY": "only-for-this-test-run",
            "APPRAISAL_LEASE_SECONDS": "3",
            "SWEEP_SECONDS": "1",
        }
        return cls(folder, gate, environment)

    def end(self) -> None:
        self.gate.shutdown()
        self.gate.server_close()

    def worker(self) -> Process:
        return self._celery("worker", "--concurrency=1", "--pool=prefork")

    def beat(self) -> Process:
        return self._celery("beat", f"--schedule={self.folder / 'beat'}", "--max-interval=1")

    def web(self, port: int) -> Process:
        command = ("gunicorn", "server.wsgi", "--config=python:server.web", "--workers=1")
        return self._process("web", "-m", *command, f"--bind=127.0.0.1:{port}")

    def _celery(self, part: str, *options: str) -> Process:
        return self._process(
            part, "-m", "celery", "-A", "server", part, "--loglevel=INFO", *options
        )

    def _process(self, name: str, *command: str) -> Process:
        log = self.folder / f"{name}-{time.monotonic_ns()}.log"
        return Process(*command, log=log, environment=self.environment)
