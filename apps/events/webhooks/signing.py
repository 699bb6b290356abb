"""Symmetric signatures of the Standard Webhooks specification, made by its own library."""

import base64
import binascii
import secrets
from collections.abc import Sequence
from datetime import UTC, datetime

from standardwebhooks.webhooks import Webhook

PREFIX = "whsec_"
KEY_BYTES = 32  # the specification requires 24 to 64


def new_secret() -> str:
    return PREFIX + base64.b64encode(secrets.token_bytes(KEY_BYTES)).decode()


def signed_headers(
    message_id: str, timestamp: int, body: bytes, secrets_held: Sequence[str]
) -> dict[str, str]:
    """The three headers that go with the body; one signature for each secret.

    timestamp: of this attempt, in Unix seconds.
    """
    signatures = [signature(message_id, timestamp, body, secret) for secret in secrets_held]
    return {
        "webhook-id": message_id,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": " ".join(signatures),
    }


def signature(message_id: str, timestamp: int, body: bytes, secret: str) -> str:
    at = datetime.fromtimestamp(timestamp, UTC)  # the library uses the date's UTC fields
    return Webhook(key_of(secret)).sign(message_id, at, body.decode())


def key_of(secret: str) -> bytes:
    try:
        return base64.b64decode(secret.removeprefix(PREFIX), validate=True)
    except binascii.Error as error:
        raise ValueError("a secret is base64 after its prefix") from error
