"""Lists failing jobs for monitoring; ends with status 1 if there are any."""

import sys
from argparse import ArgumentParser
from datetime import timedelta

from django.core.management.base import BaseCommand
from django.utils import timezone

from apps.jobs.selectors import failing


class Command(BaseCommand):
    help = "List the background jobs that fail and are tried again, of all kinds."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--minutes", type=float, default=0, help="only those failing so long")

    def handle(self, *, minutes: float, **_: object) -> None:
        before = timezone.now() - timedelta(minutes=minutes)
        found = [job for job in failing() if job.since <= before]
        for job in found:
            self.stdout.write(
                f"{job.kind} {job.pk}: {job.attempts} failed attempts since "
                f"{job.since:%Y-%m-%d %H:%M:%SZ}: {job.last_error}"
            )
        if found:
            sys.exit(1)
