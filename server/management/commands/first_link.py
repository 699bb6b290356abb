"""The link with which a service begins."""

from django.conf import settings
from django.core.management.base import BaseCommand

from apps.accounts.one_time_links import first_link_make


class Command(BaseCommand):
    help = "Where nobody has an account yet, print a link that makes the first person, once."

    def handle(self, **_: object) -> None:
        secret = first_link_make()
        if secret is None:
            self.stdout.write("Somebody has an account already: sign in, or be invited.")
            return
        self.stdout.write(f"{settings.PUBLIC_URL}/start/{secret}")
