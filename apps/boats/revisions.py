"""The inputs revision: how a result can tell that it is out of date."""

import logging
import uuid

from django.db import transaction
from django.db.models import F

from apps.boats.models import CandidateList
from apps.boats.signals import list_inputs_changed

log = logging.getLogger(__name__)


def inputs_changed(list_id: uuid.UUID) -> int:
    """Raise the list's inputs revision; call in the transaction that changed an input.

    Returns the new revision. After the commit whoever listens is told; if telling fails, the
    revision in the database is still ahead of the results and the sweep finds it.
    """
    if not transaction.get_connection().in_atomic_block:
        raise RuntimeError("the revision belongs to the transaction that changed the input")
    CandidateList.objects.filter(pk=list_id).update(inputs_revision=F("inputs_revision") + 1)
    revision = CandidateList.objects.values_list("inputs_revision", flat=True).get(pk=list_id)
    transaction.on_commit(
        lambda: list_inputs_changed.send_robust(CandidateList, list_id=list_id, revision=revision),
        robust=True,
    )
    return revision
