"""Removes files of photos and sounds that no record needs."""

from argparse import ArgumentParser

from django.core.management.base import BaseCommand, CommandError

from apps.viewings.media.files import TooManyOrphans, files_sweep


class Command(BaseCommand):
    help = (
        "Remove files of photos and sounds that had no record for 30 days. Refuses to remove more "
        "than a small share of all files at once."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--however-many",
            action="store_true",
            help="remove them all; first make sure that the database is the right one, and whole",
        )

    def handle(self, *, however_many: bool, **_: object) -> None:
        try:
            removed = files_sweep(however_many=however_many)
        except TooManyOrphans as refused:
            raise CommandError(str(refused)) from refused
        self.stdout.write(f"{removed} files removed.")
