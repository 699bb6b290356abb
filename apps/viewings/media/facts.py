"""Plain facts of a whole list: the taps that were recorded with findings that count."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from apps.boats.selectors import ListIds
from apps.viewings.media.models import Media, Sound
from apps.viewings.models import LIVE, Submission


@dataclass(frozen=True)
class LiveSound:
    """The taps of one recording, which belongs to the finding on this checkpoint in a submission.

    taps: as `Sound.taps`.
    """

    submission_id: uuid.UUID
    checkpoint: str
    is_reference: bool
    taps: tuple[Mapping[str, Any], ...]


def list_sounds(list_id: uuid.UUID) -> list[LiveSound]:
    """Every recording on the list that was measured and counts, oldest first. One query."""
    return sounds_on([list_id])


def sounds_on(list_ids: ListIds) -> list[LiveSound]:
    """The same of several lists. One query."""
    counting = Submission.objects.filter(LIVE, viewing__candidate__list_id__in=list_ids)
    rows = Sound.objects.filter(submission__in=counting, state=Media.State.READY).order_by("pk")
    return [
        LiveSound(submission_id, checkpoint, purpose == Sound.Purpose.REFERENCE, tuple(taps))
        for submission_id, checkpoint, purpose, taps in rows.values_list(
            "submission_id", "checkpoint_id", "purpose", "taps"
        )
    ]
