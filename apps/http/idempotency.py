"""A write with an Idempotency-Key runs once; a repeat gets the stored answer."""

import hashlib
import uuid

from django.db import IntegrityError, transaction

from apps.common.errors import Conflict, Invalid
from apps.http.models import IdempotencyRecord


def idempotency_claim(
    *, principal: uuid.UUID, key: str, method: str, path: str, body: bytes
) -> IdempotencyRecord:
    """The stored answer for this key, or a fresh row (status None) that the caller must fill.

    The row is inserted in the transaction of the write, so a simultaneous repeat waits for the
    first to commit and then gets its answer. Raises `Invalid` if the key was used for another
    request, `Conflict` if the first one is still running.
    """
    if not 1 <= len(key) <= 255:
        raise Invalid.at("", "idempotency_key", "An Idempotency-Key has 1 to 255 characters.")
    digest = hashlib.sha256(body).hexdigest()
    try:
        with transaction.atomic():
            return IdempotencyRecord.objects.create(
                principal=principal, key=key, method=method, path=path, body_digest=digest
            )
    except IntegrityError:
        pass
    answer = IdempotencyRecord.objects.get(principal=principal, key=key)
    if (answer.method, answer.path, answer.body_digest) != (method, path, digest):
        raise Invalid.at(
            "",
            "idempotency_key_reused",
            "This Idempotency-Key was used before for another request. Send a new key.",
        )
    if answer.status is None:
        raise Conflict("still_running", "The first request with this key is still running.")
    return answer
