"""Many writers at once do not fork a record, on a database that allows them."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection, connections

from apps.boats.models import Candidate
from apps.records.checking import record_faults
from apps.records.models import ListRecord, RecordEntry
from apps.viewings.services import follow_up_add

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.served]
WRITERS, ROUNDS = 5, 8


@pytest.fixture(autouse=True)
def _several_writers():
    if connection.vendor == "sqlite":
        pytest.skip("SQLite has one writer, and its memory one connection")


def write(boat: Candidate, by) -> None:
    try:
        for n in range(ROUNDS):
            follow_up_add(candidate=boat, by=by, question=f"Question {n}?", asked_of="seller")
    finally:
        connections.close_all()


def test_writers_at_once_make_one_chain(scene):
    boats = [scene.heron, scene.dunlin]
    by = scene.cast.ben.person
    with ThreadPoolExecutor(WRITERS) as pool:
        writers = [pool.submit(write, boats[n % 2], by) for n in range(WRITERS)]
        for writer in writers:
            writer.result(timeout=60)
    record = ListRecord.objects.get()
    assert record.entries_made == RecordEntry.objects.count() == WRITERS * ROUNDS
    assert record_faults(record) == []
