"""A worker inside the web server's own process, for the embedded way to run.

Messages live in this process's memory and die with it. That is safe because the database is the
record of what is stale: the sweep finds what was lost. Start it after the web server forked, for
threads do not survive a fork.
"""

import logging
import threading

from celery import Celery
from celery.beat import EmbeddedService
from celery.worker import WorkController, state
from django.db import connections

log = logging.getLogger(__name__)


class EmbeddedWorker:
    """One thread that works on tasks and one that sends the scheduled ones (`beat_schedule`)."""

    def __init__(self, app: Celery) -> None:
        self.app = app
        self._worker = threading.Thread(target=self._work, name="worker", daemon=True)
        # Keeps its times in memory: every schedule starts anew with the process.
        self._clock = EmbeddedService(app, thread=True, scheduler_cls="celery.beat:Scheduler")

    def start(self) -> None:
        self.app.loader.import_default_modules()
        self._worker.start()
        self._clock.start()
        for entry in self.app.conf.beat_schedule.values():  # what was left over from before
            self.app.send_task(entry["task"], args=entry.get("args", ()))

    def stop(self, timeout: float = 20.0) -> bool:
        """Finish the task in hand and end both threads. False if that took too long."""
        state.should_stop = 0  # the exit status; read by the worker between two tasks
        self._clock.stop()
        self._worker.join(timeout)
        stopped = not self._worker.is_alive()
        if stopped:
            state.should_stop = None
        else:
            log.warning("the embedded worker is still busy: its lease will run out")
        return stopped

    def _work(self) -> None:
        # One task at a time in this very thread: CPU-heavy work gains nothing from more of them.
        controller = WorkController(
            app=self.app,
            pool="solo",
            concurrency=1,
            without_gossip=True,
            without_heartbeat=True,
            without_mingle=True,
        )
        try:
            controller.start()
        finally:
            connections.close_all()
