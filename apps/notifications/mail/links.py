"""Signed links in mails, which work without signing in.

Anybody who has the mail can use the link, so it is good for one action only.
"""

import uuid
from datetime import timedelta

from django.conf import settings
from django.core.signing import BadSignature, Signer, TimestampSigner
from django.urls import reverse

from apps.accounts.models import Person
from apps.common.digests import email_digest

UNSUBSCRIBE, CONFIRM = (
    "notifications-unsubscribe",
    "notifications-confirm",
)  # names of the addresses
CONFIRM_WITHIN = timedelta(days=7)


def unsubscribe_link(person_id: uuid.UUID) -> str:
    """Valid as long as the account exists, because people keep mails for years."""
    return _address(UNSUBSCRIBE, Signer(salt=UNSUBSCRIBE).sign_object(str(person_id)))


def person_unsubscribing(token: str) -> uuid.UUID | None:
    """The person of the link; None for a forged link."""
    try:
        return uuid.UUID(Signer(salt=UNSUBSCRIBE).unsign_object(token))
    except (BadSignature, ValueError):
        return None


def confirm_link(person: Person) -> str:
    """A link valid for a week, for the present address only."""
    signed = [str(person.pk), email_digest(person.email)]
    return _address(CONFIRM, TimestampSigner(salt=CONFIRM).sign_object(signed))


def person_confirming(token: str) -> tuple[uuid.UUID, str] | None:
    """The person and the address's digest; None for a forged or expired link."""
    try:
        pk, digest = TimestampSigner(salt=CONFIRM).unsign_object(token, max_age=CONFIRM_WITHIN)
        return uuid.UUID(pk), digest
    except (BadSignature, ValueError):
        return None


def _address(name: str, token: str) -> str:
    service: str = settings.PUBLIC_URL
    return service + reverse(name, kwargs={"token": token})
