"""Adds a group for an existing person."""

from argparse import ArgumentParser

from django.core.management.base import BaseCommand, CommandError

from apps.accounts.models import Person
from apps.groups.services import group_create


class Command(BaseCommand):
    help = "Add a group with an existing person as its organiser."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name")
        parser.add_argument("organiser_email")

    def handle(self, *, name: str, organiser_email: str, **_: object) -> None:
        organiser = Person.objects.filter(email__iexact=organiser_email).first()
        if organiser is None:
            raise CommandError(f"There is no account with the email {organiser_email}.")
        group = group_create(by=organiser, name=name)
        self.stdout.write(f"Added {group.name} ({group.id}).")
