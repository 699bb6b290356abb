"""Puts a backup into an empty installation."""

from argparse import ArgumentParser
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from server.backups.manifest import BackupFailed
from server.backups.restoring import (
    backup_check,
    backup_restore,
    results_unequal,
    secrets_unreadable,
)


class Command(BaseCommand):
    help = (
        "Restore a backup into an empty database and an empty storage; then compute every list "
        "again and compare it with the stored results."
    )
    requires_system_checks: list[str] = []  # they ask the database, which is empty

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("backup", type=Path, help="the folder of one backup")
        parser.add_argument(
            "--check", action="store_true", help="only compare its files with their checksums"
        )

    def handle(self, *, backup: Path, check: bool, **_: object) -> None:
        try:
            manifest = backup_check(backup) if check else backup_restore(backup)
        except BackupFailed as failed:
            raise CommandError(str(failed)) from failed
        rows, files = sum(manifest.tables.values()), len(manifest.media)
        done = "Whole" if check else "Restored"
        self.stdout.write(f"{done}: {rows} rows and {files} files of {manifest.made_at}.")
        if not check:
            self.compare()

    def compare(self) -> None:
        if unread := secrets_unreadable():
            self.stderr.write(
                f"{unread} secrets of webhooks cannot be decrypted: SECRET_KEY, or one of "
                "SECRET_KEY_FALLBACKS, must be the key from the time of the backup."
            )
        equal = 0
        differing = []
        for list_id, parts in results_unequal():
            equal += not parts
            if parts:
                differing.append(f"list {list_id}: {', '.join(parts)}")
        self.stdout.write(f"Computed again: {equal} lists are as stored.")
        if differing:
            raise CommandError("These differ from the stored results:\n" + "\n".join(differing))
