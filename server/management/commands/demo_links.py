"""Links that sign in as the people of the demo."""

import json

from django.core.management.base import BaseCommand, CommandError

from apps.accounts.models import Person
from apps.accounts.one_time_links import demo_link_make


class Command(BaseCommand):
    help = "Print, as JSON by name, a path for each person of the demo that signs in once."

    def handle(self, **_: object) -> None:
        people = Person.objects.filter(kind=Person.Kind.PERSON, is_active=True).order_by("pk")
        try:
            paths = {one.name: f"/start/{demo_link_make(one)}" for one in people}
        except ValueError as refused:
            raise CommandError(str(refused)) from refused
        self.stdout.write(json.dumps(paths))
