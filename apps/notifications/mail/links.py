"""Addresses in mails that work without signing in: signed, so that nobody can make one up.

Whoever holds the mail holds the link; it opens nothing but the one thing it is for.
"""

import hashlib
import uuid
from datetime import timedelta

from django.conf import settings
from django.core.signing import BadSignature, Signer, TimestampSigner
from django.urls import reverse

from apps.accounts.models import Person

UNSUBSCRIBE, CONFIRM = (
    "notifications-unsubscribe",
    "notifications-confirm",
)  # names of the addresses
CONFIRM_WITHIN = timedelta(days=7)


def unsubscribe_link(person_id: uuid.UUID) -> str:
    """Good as long as the account is: mails are kept for years."""
    return _address(UNSUBSCRIBE, Signer(salt=UNSUBSCRIBE).sign_object(str(person_id)))


def person_unsubscribing(token: str) -> uuid.UUID | None:
    """None for a link that was never given out."""
    try:
        return uuid.UUID(Signer(salt=UNSUBSCRIBE).unsign_object(token))
    except (BadSignature, ValueError):
        return None


def confirm_link(person: Person) -> str:
    """For a week, and for this address only."""
    signed = [str(person.pk), digest_of(person.email)]
    return _address(CONFIRM, TimestampSigner(salt=CONFIRM).sign_object(signed))


def person_confirming(token: str) -> tuple[uuid.UUID, str] | None:
    """Who, and the digest of which address; None for one that is made up or late."""
    try:
        pk, digest = TimestampSigner(salt=CONFIRM).unsign_object(token, max_age=CONFIRM_WITHIN)
        return uuid.UUID(pk), digest
    except (BadSignature, ValueError):
        return None


def digest_of(email: str) -> str:
    return hashlib.sha256(email.lower().encode()).hexdigest()


def _address(name: str, token: str) -> str:
    service: str = settings.PUBLIC_URL
    return service + reverse(name, kwargs={"token": token})
