"""A worker inside the web server's process, for the embedded setup.

Messages are in this process's memory and are lost when it ends. That is safe because the database
records which results are stale: the sweep finds the lost work. Start the worker after the web
server has forked, because threads do not survive a fork.
"""

import logging
import threading
import time
from socket import gethostname
from typing import Any

from celery import Celery
from celery.beat import EmbeddedService
from celery.schedules import crontab
from celery.worker import WorkController, state
from django.db import connections

from apps.jobs.life import BEAT, EVERY_SECONDS, PLANNING, RESULTS, SENDING, sign_of_life
from server.celery import spare_collector

log = logging.getLogger(__name__)


class EmbeddedWorker:
    """One thread for the tasks of each queue, and one that sends the scheduled tasks."""

    def __init__(self, app: Celery) -> None:
        self.app = app
        self._workers: dict[str, threading.Thread] = {}
        # It keeps its times in memory, so every schedule starts again with the process.
        self._beat: Any = EmbeddedService(app, thread=True, scheduler_cls="celery.beat:Scheduler")
        self._stopped = threading.Event()

    def start(self) -> None:
        self.app.loader.import_default_modules()
        spare_collector()
        self._workers = self._set_up()
        for worker in self._workers.values():
            worker.start()
        self._beat.start()
        threading.Thread(target=self._give_signs, name="signs of life", daemon=True).start()
        for entry in self.app.conf.beat_schedule.values():  # work left from before
            if isinstance(entry["schedule"], crontab):
                continue  # runs at its time of day only
            self.app.send_task(entry["task"], args=entry.get("args", ()))

    def _set_up(self) -> dict[str, threading.Thread]:
        """One worker after the other: Celery imports parts of itself when they are first used, and
        threads that do so at once can wait for each other for ever.
        """
        # A Celery application has one choice of queues, so each further queue has its own.
        apps = {RESULTS: self.app, SENDING: _twin(self.app), PLANNING: _twin(self.app)}
        return {
            queue: threading.Thread(
                target=_work, args=(_controller(app, queue),), name=f"worker: {queue}", daemon=True
            )
            for queue, app in apps.items()
        }

    def stop(self, timeout: float = 20.0) -> bool:
        """Finish the running tasks and end all threads. False if that takes too long."""
        self._stopped.set()
        # The exit status, which each worker reads between two tasks.
        state.should_stop = 0  # type: ignore[assignment]  # the library takes an exit code
        self._beat.stop()
        give_up = time.monotonic() + timeout
        for worker in self._workers.values():
            worker.join(max(0.0, give_up - time.monotonic()))
        stopped = not any(worker.is_alive() for worker in self._workers.values())
        if stopped:
            state.should_stop = None
        else:
            log.warning("the embedded worker is still busy: its lease will run out")
        return stopped

    def _give_signs(self) -> None:
        parts = {**self._workers, BEAT: self._beat}
        while not self._stopped.is_set():
            for part, thread in parts.items():
                if thread.is_alive():
                    sign_of_life(part, gethostname())
            self._stopped.wait(EVERY_SECONDS)


def _twin(app: Celery) -> Celery:
    twin = Celery(app.main, set_as_current=False)
    twin.config_from_object("django.conf:settings", namespace="CELERY")
    return twin


def _controller(app: Celery, queue: str) -> WorkController:
    # One task at a time in its thread: more threads do not speed up CPU-heavy work.
    return WorkController(
        app=app,
        queues=[queue],
        pool="solo",
        concurrency=1,
        without_gossip=True,
        without_heartbeat=True,
        without_mingle=True,
    )


def _work(controller: WorkController) -> None:
    try:
        controller.start()
    finally:
        connections.close_all()
