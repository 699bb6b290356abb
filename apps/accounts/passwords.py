"""Changing a password: with the present one, or by a link from the service's operator.

Either way all other sign-ins end, and the person is told by mail if they have a confirmed address.
"""

import uuid

from django.contrib.auth.hashers import make_password
from django.db import transaction

from apps.accounts.models import Person, Token
from apps.accounts.one_time_links import password_link, password_link_use
from apps.accounts.program_services import grant_revoke
from apps.accounts.selectors import grants_of, own_tokens
from apps.accounts.services import check_password, sessions_end, token_revoke
from apps.accounts.sign_in import person_confirm, wrong_password
from apps.events.services import event_announce


def password_change(
    *, person: Person, present: str, password: str, address: str, end_tokens: bool = False
) -> None:
    """Change the person's password. All sign-ins end, but for the one of this request.

    end_tokens: tokens for scripts and programs' access end too. Raises `Invalid` at /present or
    /password, `TooMany` as signing in does.
    """
    known = person_confirm(person=person, password=present, address=address, at="/present")
    check_password(password, person)
    keep = None if person.via is None else person.via.id
    _store(person, password, known=known.password, keep=keep, end_tokens=end_tokens)


def password_set_by_link(*, secret: str, password: str) -> Person:
    """Use up the link and set its person's password. All sign-ins end.

    Raises `Invalid` at /password, `NotVisible` for an invalid link.
    """
    person = password_link(secret)
    check_password(password, person)
    with transaction.atomic():
        password_link_use(secret)
        _store(person, password)
    return person


def _store(
    person: Person,
    password: str,
    *,
    known: str | None = None,
    keep: uuid.UUID | None = None,
    end_tokens: bool = False,
) -> None:
    """known: the hash that was proved; another change may have replaced it meanwhile."""
    hashed = make_password(password)  # slow, so before any lock
    with transaction.atomic():
        row = Person.objects.select_for_update(no_key=True).get(pk=person.pk)
        if known is not None and row.password != known:
            raise wrong_password("/present")
        row.password = hashed
        row.save_changes(fields=["password"])
        sessions_end(person=row, keep=keep)
        row.one_time_links.filter(used_at=None).delete()
        if end_tokens:
            _tokens_end(row)
        event_announce(kind="person.password_changed", thing_id=row.pk)


def _tokens_end(person: Person) -> None:
    for token in own_tokens(person, Token.Kind.PERSONAL):
        token_revoke(token=token)
    for program in grants_of(person):
        grant_revoke(person=person, program=program)
