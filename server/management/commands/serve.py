"""The service in one process, with nothing else to install or start."""

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import connections
from gunicorn.app.base import BaseApplication

from apps.jobs.leases import void_all
from server.celery import app as celery_app
from server.embedded import EmbeddedWorker


class Server(BaseApplication):  # type: ignore[misc]  # the library has no types
    """gunicorn with one process of several threads; embedded, the worker is one of them."""

    def __init__(self, *, bind: str, threads: int) -> None:
        self.given = {
            "bind": bind,
            "workers": 1,
            "threads": threads,
            "worker_class": "gthread",
            "control_socket_disable": True,
            "graceful_timeout": 20,
            "accesslog": "-" if settings.DEBUG else None,
        }
        if settings.EMBEDDED:
            worker = EmbeddedWorker(celery_app)
            # After the fork: threads do not survive one.
            self.given["post_worker_init"] = lambda _: worker.start()
            self.given["worker_exit"] = lambda _server, _worker: worker.stop()
        super().__init__()

    def load_config(self) -> None:
        for name, value in self.given.items():
            self.cfg.set(name, value)

    def load(self) -> Any:
        from server.wsgi import application

        return application


class Command(BaseCommand):
    help = (
        "Bring the database and the catalogue up to date, then serve. Without REDIS_URL the "
        "worker runs in this process too."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--bind", default="127.0.0.1:8000", help="address and port")
        parser.add_argument("--threads", type=int, default=8)

    def handle(self, *, bind: str, threads: int, verbosity: int, **_: object) -> None:
        text = max(0, verbosity - 1)
        call_command("migrate", interactive=False, verbosity=text, skip_checks=False)
        call_command("load_catalogue")
        if settings.EMBEDDED:
            void_all()
        connections.close_all()  # a connection must not be shared across the fork
        self.stdout.write(f"Serving on http://{bind}/ (pages for people at /docs/)")
        Server(bind=bind, threads=threads).run()
