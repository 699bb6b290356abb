from collections.abc import Iterator
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from apps.common.hash_chain import ChainFault
from apps.expenses.models import Ledger
from apps.expenses.records import ledger_faults
from apps.records.checking import record_faults
from apps.records.models import ListRecord


class Command(BaseCommand):
    help = "Check that nothing in the records of boats and in the ledgers was changed or removed."

    def handle(self, *args: Any, **options: Any) -> None:
        faulty = 0
        for name, fault in self.faults():
            faulty += 1
            at = f"entry {fault.number}" if fault.number else "the whole"
            self.stderr.write(f"{name}, {at}: {fault.sentence}")
        if faulty:
            raise CommandError(f"{faulty} faults.")
        self.stdout.write("Every record and every ledger is as it was entered.")

    def faults(self) -> Iterator[tuple[str, ChainFault]]:
        ledgers = Ledger.objects.select_related("group").order_by("created_at")
        for ledger in ledgers.iterator():
            for fault in ledger_faults(ledger):
                yield f"Ledger of {ledger.group.name} ({ledger.group_id})", fault
        records = ListRecord.objects.select_related("list__group").order_by("created_at")
        for record in records.iterator():
            for fault in record_faults(record):
                yield f"Record of {record.list.name} ({record.list_id})", fault
