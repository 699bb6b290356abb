"""How the worker inside the web server's process begins."""

import threading
from types import SimpleNamespace

from server import embedded
from server.celery import app
from server.embedded import EmbeddedWorker


def test_workers_are_set_up_in_one_thread_and_work_in_their_own(monkeypatch):
    """Celery imports parts of itself when a worker is set up. Several threads that did so at once
    ended each other, and no result was computed any more."""
    set_up, works = [], []

    class Controller:
        def __init__(self, queues, **_):
            set_up.append((threading.current_thread(), queues))

        def start(self):
            works.append(threading.current_thread())

    monkeypatch.setattr(embedded, "WorkController", Controller)
    worker = EmbeddedWorker(app)
    worker.app = SimpleNamespace(
        conf=SimpleNamespace(beat_schedule={}), loader=app.loader, main=app.main
    )
    worker._beat = SimpleNamespace(start=lambda: None)
    worker._give_signs = lambda: None
    worker.start()
    for thread in worker._workers.values():
        thread.join(10)
    assert {thread for thread, _ in set_up} == {threading.current_thread()}
    assert [queues for _, queues in set_up] == [[queue] for queue in worker._workers]
    assert len(set(works)) == 3
    assert threading.current_thread() not in works
