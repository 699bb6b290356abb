"""Computes each club's statistics of surveys now, without waiting for the schedule."""

from typing import Any

from django.core.management.base import BaseCommand

from apps.outcomes.services import club_outcomes_refresh, clubs_with_outcomes


class Command(BaseCommand):
    help = "Compute the statistics of surveys of all clubs whose data have changed."

    def handle(self, *args: Any, **options: Any) -> None:
        for club_id in clubs_with_outcomes():
            done = club_outcomes_refresh(club_id=club_id)
            self.stdout.write(
                f"{club_id}: {done.disclosed} tables published anew, {done.kept} left as they "
                f"stand, {done.withdrawn} withdrawn; {done.given} groups given other estimates"
            )
