"""Stores records under ids that clients made."""

import uuid
from typing import TypeVar

from django.db import IntegrityError, transaction
from django.db.models import Model

from apps.common.errors import Conflict

Record = TypeVar("Record", bound=Model)


def record_create(thing: Record, id: uuid.UUID | None = None) -> Record:
    """Insert the record under the client's id, if given. Raises `Conflict` if it is taken."""
    if id is not None:
        thing.pk = id
    try:
        with transaction.atomic():
            thing.save(force_insert=True)
    except IntegrityError as error:
        if type(thing)._base_manager.filter(pk=thing.pk).exists():
            raise Conflict("id_taken", "This id is in use already.") from error
        raise
    return thing
