"""Pool the findings of each club's groups now, without waiting for the schedule."""

from typing import Any

from django.core.management.base import BaseCommand

from apps.appraisal.pooling.pools import club_pool, clubs_pooling


class Command(BaseCommand):
    help = "Pool the findings of clubs whose groups agreed to pool, where they have changed."

    def handle(self, *args: Any, **options: Any) -> None:
        for club_id in clubs_pooling():
            done = club_pool(club_id=club_id, seconds=float("inf"))
            self.stdout.write(
                f"{club_id}: {done.given} groups given a pool, {done.unchanged} as before, "
                f"{done.too_few} with fewer than three others to pool with"
            )
