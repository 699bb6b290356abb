"""Writes a group's archive with everything in it, including hidden opinions."""

import uuid
from argparse import ArgumentParser
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from apps.archives.collecting import group_collect
from apps.archives.packing import archive_write
from apps.groups.models import Group


class Command(BaseCommand):
    help = "Write all data of a group into an archive file."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("group", type=uuid.UUID, help="the group's id")
        parser.add_argument("file", type=Path)

    def handle(self, *, group: uuid.UUID, file: Path, **_: object) -> None:
        found = Group.objects.filter(pk=group).first()
        if found is None:
            raise CommandError(f"There is no group {group}.")
        with file.open("xb") as out:
            counts = archive_write(group_collect(found, None), out, timezone.now())
        self.stdout.write(f"Wrote {sum(counts.values())} rows of {found.name}.")
