"""Word a clause, and agree to a wording. No wording and no consent is ever changed."""

import uuid

from django.db import IntegrityError, transaction

from apps.accounts.models import Person
from apps.common.errors import Conflict, Stale
from apps.common.services import record_create
from apps.events.services import event_record
from apps.groups.models import Group
from apps.groups.programs import client_note
from apps.groups.rules import Action, require
from apps.ownership.models import Clause, Consent, Wording


@transaction.atomic
def clause_word(
    *, group: Group, topic: str, by: Person, text: str, expected_version: int | None = None
) -> Clause:
    """Give a clause another wording, to which everybody has to agree anew.

    The same words again are no other wording. Raises `Stale`.
    """
    require(by, Action.ACCOUNT, group.pk)
    clause = Clause.objects.select_for_update().filter(group=group, topic=topic).first()
    if clause is None:
        clause = _first(group, topic)
    elif clause.version != expected_version:
        raise Stale
    elif clause.wordings.get(number=clause.wordings_made).text == text:
        return clause
    else:
        clause.wordings_made += 1
        clause.save_changes(expected_version=expected_version, fields=["wordings_made"])
    wording = Wording(clause=clause, number=clause.wordings_made, text=text, written_by=by)
    client_note(record=wording, by=by, group_id=group.pk)
    wording.save()
    _event("clause.worded", clause, by, wording.number)
    return clause


def _first(group: Group, topic: str) -> Clause:
    try:
        with transaction.atomic():
            return Clause.objects.create(group=group, topic=topic, wordings_made=1)
    except IntegrityError as error:  # somebody else did at the same time
        raise Stale from error


@transaction.atomic
def consent_give(
    *, clause: Clause, by: Person, wording: int, id: uuid.UUID | None = None
) -> Consent:
    """Agree to a wording by its number, so that nobody agrees to words that they have not read.

    Raises `Conflict` if it no longer holds, or if the person agreed already.
    """
    require(by, Action.OPINE, clause.group_id)
    clause = Clause.objects.select_for_update().get(pk=clause.pk)
    if wording != clause.wordings_made:
        text = f"Wording {clause.wordings_made} holds now: read it before you agree."
        raise Conflict("other_wording", text)
    held = clause.wordings.get(number=wording)
    if held.consents.filter(person=by).exists():
        raise Conflict("agreed_already", "You agreed to this wording already.")
    consent = Consent(wording=held, person=by)
    client_note(record=consent, by=by, group_id=clause.group_id)
    record_create(consent, id)
    _event("clause.agreed", clause, by, wording)
    return consent


def _event(kind: str, clause: Clause, by: Person, wording: int) -> None:
    event_record(
        group_id=clause.group_id,
        kind=kind,
        thing="clause",
        thing_id=clause.pk,
        thing_version=clause.version,
        by_id=by.pk,
        facts={"topic": clause.topic, "wording": wording},
    )
