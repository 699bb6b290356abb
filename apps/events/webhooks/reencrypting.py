"""Encrypts the secrets of webhooks again with the present SECRET_KEY, after it was replaced."""

from dataclasses import dataclass

from apps.common.encryption import Undecryptable, decrypt, encrypt, uses_present_key
from apps.events.models import Webhook

FIELDS = ("secret", "old_secret")


@dataclass
class Reencrypted:
    """present: secrets with the present key already. unreadable: no key in the settings fits."""

    present: int = 0
    changed: int = 0
    unreadable: int = 0


def secrets_reencrypt(*, only_count: bool = False) -> Reencrypted:
    """Encrypt all secrets that need a fallback key with the present key. Repeating is harmless."""
    done = Reencrypted()
    for webhook in Webhook.objects.order_by("pk"):
        for field in FIELDS:
            stored = getattr(webhook, field)
            if not stored:
                continue
            if uses_present_key(stored):
                done.present += 1
                continue
            try:
                again = encrypt(decrypt(stored))
            except Undecryptable:
                done.unreadable += 1
                continue
            if not only_count:
                # An organiser may have renewed the secret meanwhile.
                Webhook.objects.filter(pk=webhook.pk, **{field: stored}).update(**{field: again})
            done.changed += 1
    return done
