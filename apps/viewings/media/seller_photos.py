"""Add and remove photos from a boat's seller. They are no findings: no result depends on them."""

import uuid
from datetime import date

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.common.errors import require_no_faults
from apps.groups.rules import Action, require, require_adder_or_organiser
from apps.viewings.media.adding import (
    PHOTOS,
    media_add,
    media_delete,
    require_room,
)
from apps.viewings.media.models import SellerPhoto
from apps.viewings.services import future_faults


@transaction.atomic
def seller_photo_add(
    *,
    candidate: Candidate,
    by: Person,
    file: "UploadedFile[bytes]",
    source: str,
    dated_on: date | None = None,
    note: str = "",
    id: uuid.UUID | None = None,
) -> tuple[SellerPhoto, bool]:
    """Add a photo that the seller showed or sent on this day, today if none is given.

    Returns whether it is new: a repeat with the same file, fields and id returns the stored one.
    Raises `Conflict` for other content under a used id, `Invalid` at /file and /dated_on.
    """
    require(by, Action.ADD, candidate.list.group_id)
    today = timezone.now().date()
    photo = SellerPhoto(
        group_id=candidate.list.group_id,
        candidate=candidate,
        source=source,
        dated_on=dated_on or today,
        note=note,
        added_by=by,
    )

    def require_fit(photo: SellerPhoto) -> None:
        require_no_faults(future_faults("/dated_on", photo.dated_on))
        require_room(SellerPhoto.objects.filter(candidate=candidate).count())

    return media_add(photo, by, file, PHOTOS, id, require_fit)


@transaction.atomic
def seller_photo_remove(*, photo: SellerPhoto, by: Person, expected_version: int) -> None:
    """Remove it at any time: it is no finding, and people in it may object."""
    require_adder_or_organiser(by, Action.ADD, photo.group_id, photo.added_by_id)
    media_delete(photo, by, expected_version)
