"""Checks that a record was only ever added to, and that what it is about is as it was."""

import json
from collections import Counter
from collections.abc import Iterator

from apps.common.hash_chain import ChainFault, Link, Renaming, chain_faults, text_digest
from apps.common.plain_values import plain
from apps.records.facts import submission_digest
from apps.records.models import ListRecord, RecordEntry
from apps.viewings.models import Submission

SUBMITTED = "submission.submitted"


def record_faults(record: ListRecord) -> list[ChainFault]:
    """Every fault of a record. Four queries.

    The findings of a submission are found by their digest, because an import gives new ids.
    """
    entries = list(record.entries.order_by("number"))
    return [
        *record_chain_faults(record, entries),
        *_changed(entries),
        *_missing_submissions(record, entries),
    ]


def record_chain_faults(record: ListRecord, entries: list[RecordEntry]) -> Iterator[ChainFault]:
    """Gaps, digests that do not follow, and texts without their digest. No query."""
    links = [Link(entry.number, entry.text_digest, entry.digest) for entry in entries]
    yield from chain_faults(links, made=record.entries_made, digest=record.digest)
    for entry in entries:
        if entry.text and text_digest(entry.text) != entry.text_digest:
            yield ChainFault(entry.number, "Its text is not the one that was entered.")


def _changed(entries: list[RecordEntry]) -> Iterator[ChainFault]:
    """Entries whose columns are not what was entered."""
    renaming = Renaming()
    for entry in entries:
        if not entry.text:
            continue
        entered = json.loads(entry.text)
        here = {
            "number": entry.number,
            "at": plain(entry.at),
            "kind": entry.kind,
            "thing": entry.thing,
            "by": entry.by_id and str(entry.by_id),
            "candidate": entry.candidate_id and str(entry.candidate_id),
        }
        if entry.candidate_id is None and not entry.of_list:
            entered["candidate"] = None  # she was deleted since
        as_entered = {name: entered.get(name) for name in here}
        if not renaming.same(as_entered, here):
            yield ChainFault(entry.number, "It is not what was entered.")


def _missing_submissions(record: ListRecord, entries: list[RecordEntry]) -> Iterator[ChainFault]:
    """Entries of submissions that are not here as they were submitted."""
    submissions = Submission.objects.filter(
        viewing__candidate__list=record.list_id, state=Submission.State.SUBMITTED
    ).prefetch_related("findings")
    here = Counter(submission_digest(one) for one in submissions)
    for entry in entries:
        if entry.kind != SUBMITTED or entry.candidate_id is None:
            continue
        digest = json.loads(entry.text)["facts"].get("digest")
        if digest is not None and not here[digest]:
            yield ChainFault(entry.number, "The findings are not what was submitted.")
        here[digest] -= 1
