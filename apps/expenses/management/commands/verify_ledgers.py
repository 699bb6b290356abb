from typing import Any

from django.core.management.base import BaseCommand, CommandError

from apps.expenses.models import Ledger
from apps.expenses.records import ledger_faults


class Command(BaseCommand):
    help = "Check that nothing in the groups' ledgers of expenses was changed or removed."

    def handle(self, *args: Any, **options: Any) -> None:
        faulty = 0
        for ledger in Ledger.objects.select_related("group").order_by("created_at").iterator():
            for fault in ledger_faults(ledger):
                faulty += 1
                at = f"entry {fault.number}" if fault.number else "the ledger"
                self.stderr.write(
                    f"{ledger.group.name} ({ledger.group_id}), {at}: {fault.sentence}"
                )
        if faulty:
            raise CommandError(f"{faulty} faults.")
        self.stdout.write("Every ledger is as it was entered.")
