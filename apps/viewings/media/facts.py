"""Plain facts of a whole list: the recorded taps of findings that count."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from apps.boats.selectors import ListIds
from apps.viewings.media.models import Media, Sound
from apps.viewings.models import LIVE, Submission


@dataclass(frozen=True)
class LiveSound:
    """The taps of one recording, for the finding on this checkpoint in a submission.

    taps: as `Sound.taps`.
    """

    submission_id: uuid.UUID
    checkpoint: str
    is_reference: bool
    taps: tuple[Mapping[str, Any], ...]


def list_sounds(list_id: uuid.UUID) -> list[LiveSound]:
    """All measured recordings on the list that count, oldest first. One query."""
    return sounds_on([list_id])


def sounds_on(list_ids: ListIds) -> list[LiveSound]:
    """The same for several lists. One query."""
    counting = Submission.objects.filter(LIVE, viewing__candidate__list_id__in=list_ids)
    rows = Sound.objects.filter(submission__in=counting, state=Media.State.READY).order_by("pk")
    return [
        LiveSound(submission_id, checkpoint, purpose == Sound.Purpose.REFERENCE, tuple(taps))
        for submission_id, checkpoint, purpose, taps in rows.values_list(
            "submission_id", "checkpoint_id", "purpose", "taps"
        )
    ]
