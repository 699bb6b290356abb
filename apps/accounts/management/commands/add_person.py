"""Adds an account."""

import getpass
import os
from argparse import ArgumentParser

from django.core.management.base import BaseCommand, CommandError

from apps.accounts.services import person_create
from apps.common.errors import Conflict, Invalid


class Command(BaseCommand):
    help = "Add a person. The password is asked for, or read from HARDSTAND_PASSWORD."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("email")
        parser.add_argument("name")
        parser.add_argument("--staff", action="store_true", help="may use the operator's admin")

    def handle(self, *, email: str, name: str, staff: bool, **_: object) -> None:
        password = os.environ.get("HARDSTAND_PASSWORD") or getpass.getpass("Password: ")
        try:
            person = person_create(email=email, name=name, password=password, is_staff=staff)
        except Invalid as refused:
            raise CommandError(" ".join(fault.detail for fault in refused.faults)) from refused
        except Conflict as refused:
            raise CommandError(refused.detail) from refused
        self.stdout.write(f"Added {person.name} ({person.id}).")
