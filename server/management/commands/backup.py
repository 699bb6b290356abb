"""Writes a backup of the database and the files, while the service runs."""

from argparse import ArgumentParser
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from server.backups.making import backup_make, backups_prune
from server.backups.manifest import BackupFailed


class Command(BaseCommand):
    help = (
        "Write a backup of the database and of all photos and sounds into a folder. The service "
        "may run meanwhile. A file that an earlier backup there has is linked, not copied."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, help="on another disk than the data")
        parser.add_argument(
            "--keep", type=int, metavar="N", help="then remove all but the newest N backups there"
        )

    def handle(self, *, folder: Path, keep: int | None, **_: object) -> None:
        try:
            made = backup_make(folder)
        except BackupFailed as failed:
            raise CommandError(str(failed)) from failed
        rows, files = sum(made.manifest.tables.values()), len(made.manifest.media)
        self.stdout.write(f"{made.path}: {rows} rows, {files} files ({made.linked} of them linked)")
        for key in made.manifest.missing:
            self.stderr.write(f"This file is not in the storage any more: {key}")
        if keep is not None:
            for old in backups_prune(folder, keep=keep):
                self.stdout.write(f"removed {old}")
