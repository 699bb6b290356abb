"""Runs the service in one process, with nothing else to install or start."""

from argparse import ArgumentParser
from io import StringIO
from socket import AF_INET, SOCK_DGRAM, socket
from typing import Any
from urllib.parse import urlsplit

import segno
from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connections
from gunicorn.app.base import BaseApplication

from apps.accounts.one_time_links import first_link_make
from apps.jobs.leases import void_all
from apps.pages.codes import is_this_machine
from server import web
from server.celery import app as celery_app
from server.embedded import EmbeddedWorker
from server.management.commands.prepare import prepare


class Server(BaseApplication):  # type: ignore[misc]  # the library has no types
    """gunicorn with one process of several threads; in the embedded setup it runs the worker
    too."""

    def __init__(self, *, bind: list[str]) -> None:
        self.given: dict[str, Any] = {
            **vars(web),
            "bind": bind,
            "workers": 1,
            "accesslog": "-" if settings.DEBUG else None,
            "logconfig_dict": {},  # with any, requests are logged
        }
        if settings.EMBEDDED:
            worker = EmbeddedWorker(celery_app)
            # After the fork: threads do not survive one.
            self.given["post_worker_init"] = lambda _: worker.start()
            self.given["worker_exit"] = lambda _server, _worker: worker.stop()
        super().__init__()

    def load_config(self) -> None:
        for name in self.given.keys() & self.cfg.settings.keys():
            self.cfg.set(name, self.given[name])

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
        parser.add_argument(
            "--for-phones",
            action="store_true",
            help="also answer phones in the same network, by an address shown as a QR code",
        )

    def handle(self, *, bind: str, for_phones: bool, verbosity: int, **_: object) -> None:
        prepare(verbosity=max(0, verbosity - 1))
        if settings.EMBEDDED:
            void_all()
        first = first_link_make()
        connections.close_all()  # a connection must not be shared across the fork
        binds = [bind]
        if for_phones:
            binds.append(bind_for_phones(bind))
        address = f"http://{binds[-1]}"
        self.stdout.write(f"Serving on http://{bind}/ (the guide for programs is at /docs/)")
        if for_phones:
            self.print_phone_address(address, first)
        if first is not None:
            self.stdout.write(
                f"Nobody has an account yet. Begin here, within a day:\n  {address}/start/{first}"
            )
        self.stdout.flush()
        Server(bind=binds).run()

    def print_phone_address(self, address: str, first: str | None) -> None:
        """The code leads to the first page, or to the beginning where there is nobody yet."""
        settings.ALLOWED_HOSTS.append(urlsplit(address).hostname)
        if is_this_machine(settings.PUBLIC_URL):
            settings.PUBLIC_URL = address
        leads_to = f"{address}/start/{first}" if first else f"{address}/"
        code = StringIO()
        segno.make(leads_to, micro=False).terminal(out=code, compact=True)
        self.stdout.write(code.getvalue())
        self.stdout.write(
            f"Phones in the same network reach it at {address}/ or by the code above. This is "
            "without\nencryption: only in a network that you trust. README.md tells how to have it "
            "with."
        )


def bind_for_phones(bind: str) -> str:
    """This machine's address in its own network, with the same port."""
    with socket(AF_INET, SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # nothing is sent; RFC 5737: nobody is there
        except OSError as error:
            raise CommandError("This machine is in no network that phones could be in.") from error
        host = probe.getsockname()[0]
    if is_this_machine(f"http://{host}"):
        raise CommandError("This machine is in no network that phones could be in.")
    return f"{host}:{bind.rpartition(':')[2]}"
