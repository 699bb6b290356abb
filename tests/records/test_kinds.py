"""Every event about a boat or a list is entered, or named as left out."""

import re

import pytest
from django.conf import settings
from django.db import transaction

from apps.events.models import Event
from apps.events.services import event_record
from apps.records.models import RecordEntry
from apps.records.wording import LEFT_OUT, VOTE, WORDS, words_of

SOURCES = "".join(
    path.read_text()
    for path in sorted((settings.BASE_DIR / "apps").rglob("*.py"))
    if path.name != "wording.py"
)


def enter(scene, kind, thing, **facts):
    with transaction.atomic():
        event_record(
            group_id=scene.cast.group.pk,
            kind=kind,
            thing=thing,
            thing_id=scene.viewing.pk,
            by_id=scene.cast.ben.person.pk,
            facts={"list": str(scene.list.pk), "candidate": str(scene.heron.pk), **facts},
        )


def test_a_kind_that_nobody_named_is_entered_with_its_facts(scene):
    enter(scene, "deposit.paid_back", "deposit", amount="100.00")
    entry = RecordEntry.objects.get()
    assert (entry.kind, entry.candidate_id) == ("deposit.paid_back", scene.heron.pk)
    assert '"facts":{"amount":"100.00"}' in entry.text
    assert '"words":"Deposit: paid back."' in entry.text


@pytest.mark.parametrize("kind", sorted(LEFT_OUT))
def test_what_is_left_out_says_why(scene, kind):
    assert LEFT_OUT[kind]
    enter(scene, kind, "photo")
    assert not RecordEntry.objects.exists()


def test_what_concerns_one_person_alone_is_not_entered(scene):
    drafted = {"state": "draft", "findings": []}
    made = scene.cast.ben.post(f"/viewings/{scene.viewing.pk}/submissions", drafted)
    assert made.status_code == 201, made.content
    assert Event.objects.exists()
    assert not RecordEntry.objects.exists()


def test_the_kinds_that_are_named_exist():
    """A kind that is written wrongly would never have its words. Some are made of two parts."""
    written = set(re.findall(r'"([a-z_]+\.[a-z_]+)"', SOURCES))
    media = {"photo", "sound", "seller_photo", "gate_document"}
    named = {kind for kind in (*WORDS, *LEFT_OUT) if kind.partition(".")[0] not in media}
    made = {VOTE, "candidate.deleted"} | {k for k in named if k.startswith("offer.")}
    entries = {kind for kind in named if kind.startswith("entry.")}
    assert named - written - made - entries == set()
    assert {"expense_added", "payment_added", "reversed"} == {e.split(".")[1] for e in entries}


@pytest.mark.parametrize("kind", sorted(WORDS))
def test_words_need_no_facts(kind):
    """The thing may be deleted in the transaction of its event."""
    assert words_of(kind, {})
