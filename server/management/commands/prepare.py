"""Brings the database and the catalogue up to date, before a new version serves."""

from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import connection

from apps.common.processes.locks import exclusive


def prepare(*, verbosity: int) -> None:
    """Migrate, then load the catalogue. Of several processes at once one works, the others wait."""
    with exclusive("prepare", wait=True):
        call_command("migrate", interactive=False, verbosity=verbosity, skip_checks=False)
        call_command("load_catalogue")


class Command(BaseCommand):
    help = (
        "Bring the database and the catalogue up to date. Repeating it is harmless; of several at "
        "once, each waits for the one before."
    )

    def handle(self, *, verbosity: int, **_: Any) -> None:
        prepare(verbosity=verbosity)
        self.stdout.write(f"Ready: {connection.vendor} and catalogue are up to date.")
