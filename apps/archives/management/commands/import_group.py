"""Imports an archive; everybody with an account is recognised by email."""

from argparse import ArgumentParser
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from apps.accounts.models import Person
from apps.archives.jobs import import_now
from apps.archives.packing import ArchiveInvalid


class Command(BaseCommand):
    help = "Make a new group from an archive, with an existing person as an organiser of it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("organiser_email")
        parser.add_argument("--name", default="", help="of the new group; as archived if left out")

    def handle(self, *, file: Path, organiser_email: str, name: str, **_: object) -> None:
        organiser = Person.objects.filter(email=organiser_email.lower(), is_active=True).first()
        if organiser is None:
            raise CommandError(f"There is no account with the email {organiser_email}.")
        people = Person.objects.filter(kind=Person.Kind.PERSON, is_active=True)
        try:
            with file.open("rb") as archive:
                imported, group = import_now(archive, by=organiser, name=name, candidates=people)
        except ArchiveInvalid as refused:
            message = [f"{f.file}:{f.line} {f.field} {f.detail}" for f in refused.faults]
            raise CommandError("\n".join(message)) from refused
        self.stdout.write(f"Added {group.name} ({group.id}).")
        for note in imported.notes:
            self.stdout.write(note)
