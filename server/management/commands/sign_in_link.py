"""A way back in for somebody who has forgotten their password."""

from argparse import ArgumentParser

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from apps.accounts.one_time_links import password_link_make


class Command(BaseCommand):
    help = "Print a link by which a person sets a new password, once, within a day. Who has the "
    help += "link has the account: give it to nobody else."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("email")

    def handle(self, *, email: str, **_: object) -> None:
        try:
            secret = password_link_make(email)
        except ValueError as refused:
            raise CommandError(str(refused)) from refused
        self.stdout.write(f"{settings.PUBLIC_URL}/new-password/{secret}")
