"""The record in an archive: a break is said, a made-up text refused, and what is withheld stays."""

from apps.expenses.models import Ledger
from apps.expenses.records import ledger_faults
from apps.groups.models import Group, Membership
from apps.records.checking import record_faults
from apps.records.models import ListRecord, RecordEntry
from tests.archives.conftest import archive_of, imported, repacked


def entry(archive, number):
    return next(row for row in archive.rows["record_entries"] if row["number"] == number)


def test_an_import_says_where_a_record_was_changed_and_keeps_it(full, cast):
    def change(archive):
        row = entry(archive, 2)
        row["text"] = row["text"].replace('"facts":{', '"facts":{"price":"1.00",', 1)

    came = imported(cast.ola, repacked(archive_of(cast), change))
    assert came["state"] == "done", came
    assert [note for note in came["notes"] if "entry 2: Its text is not the one" in note]
    record = ListRecord.objects.get(list__group=came["group"])
    assert 2 in {fault.number for fault in record_faults(record)}


def test_an_import_without_faults_says_nothing_of_it(full, cast):
    came = imported(cast.ola, archive_of(cast))
    assert [note for note in came["notes"] if "record" in note] == []


def test_a_text_that_is_none_is_refused(full, cast):
    def change(archive):
        entry(archive, 2)["text"] = '{"words": 3}'

    came = imported(cast.ola, repacked(archive_of(cast), change))
    assert came["state"] == "refused"
    (fault,) = came["faults"]
    assert (fault["file"], fault["field"], fault["code"]) == (
        "record_entries.jsonl",
        "text",
        "invalid",
    )


def test_a_record_goes_on_after_an_import(full, cast):
    came = imported(cast.ola, archive_of(cast))
    record = ListRecord.objects.get(list__group=came["group"])
    before = record.entries_made
    boat = record.list.candidates.earliest("pk")
    about = {"question": "Is the mast down?", "asked_of": "seller"}
    assert cast.ola.post(f"/candidates/{boat.pk}/follow-ups", about).status_code == 201
    record.refresh_from_db()
    assert record.entries_made == before + 1
    assert record_faults(record) == []
    assert RecordEntry.objects.filter(record=record, candidate=boat).count() > 1


def test_a_ledger_goes_on_after_an_import(full, cast):
    """The same person has another id in entries from before and after it."""
    came = imported(cast.wim, archive_of(cast))
    group = Group.objects.get(pk=came["group"])
    Membership.objects.filter(group=group, person=cast.wim.person).update(buys=True)
    wim = str(cast.wim.person.pk)
    bea = str(Membership.objects.get(group=group, person__name="Bea").person_id)
    paid = {"paid": {"amount": "9.00", "currency": "USD"}, "paid_on": "2025-04-01"}
    payment = {**paid, "paid_by": wim, "to": bea}
    assert cast.wim.post(f"/groups/{group.pk}/payments", payment).status_code == 201
    assert ledger_faults(Ledger.objects.get(group=group)) == []
