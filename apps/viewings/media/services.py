"""Add and remove photos and sounds of visits. Jobs read them: see preparing.py."""

import uuid
from typing import TypeVar

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.revisions import inputs_changed
from apps.common.errors import Conflict, Invalid, NotAllowed
from apps.groups.rules import ALLOWED, Action, membership_of
from apps.viewings.authority import Authority, authority_over
from apps.viewings.media.adding import (
    PHOTOS,
    SOUNDS,
    Accepted,
    media_add,
    media_delete,
    require_room,
)
from apps.viewings.media.models import Photo, Sound
from apps.viewings.models import Finding, Submission, Viewing

VisitFile = TypeVar("VisitFile", Photo, Sound)


@transaction.atomic
def photo_add(
    *,
    viewing: Viewing,
    by: Person,
    file: "UploadedFile[bytes]",
    submission: Submission | None = None,
    checkpoint: str | None = None,
    note: str = "",
    id: uuid.UUID | None = None,
    given: Authority | None = None,
) -> tuple[Photo, bool]:
    """Add a picture to a visit, an own submission or one finding in it; and whether it is new.

    A repeat with the same file, fields and id returns the stored one. Raises `Conflict` for other
    content under a used id and for a closed submission; `Invalid` at /file and /checkpoint.
    """
    photo = Photo(
        viewing=viewing, submission=submission, checkpoint_id=checkpoint, note=note, added_by=by
    )
    return _visit_media_add(photo, by, file, PHOTOS, id, given)


@transaction.atomic
def sound_add(
    *,
    submission: Submission,
    by: Person,
    file: "UploadedFile[bytes]",
    checkpoint: str,
    purpose: str = Sound.Purpose.CHECK,
    note: str = "",
    id: uuid.UUID | None = None,
) -> tuple[Sound, bool]:
    """Add recorded taps to a finding of an own submission; otherwise like `photo_add`."""
    sound = Sound(
        viewing=submission.viewing,
        submission=submission,
        checkpoint_id=checkpoint,
        purpose=purpose,
        note=note,
        added_by=by,
    )
    return _visit_media_add(sound, by, file, SOUNDS, id)


def _visit_media_add(
    media: VisitFile,
    by: Person,
    file: "UploadedFile[bytes]",
    accepted: Accepted,
    id: uuid.UUID | None,
    given: Authority | None = None,
) -> tuple[VisitFile, bool]:
    media.group_id = authority_over(media.of, by, Action.SUBMIT, given).group_id

    def require_fit(media: VisitFile) -> None:
        _require_open(media, by)
        _require_finding(media)

    return media_add(media, by, file, accepted, id, require_fit)


def _require_open(media: Photo | Sound, by: Person) -> None:
    """Only its author adds to a submission, while it is a draft and for some days after."""
    submission = media.submission
    if media.viewing.state == Viewing.State.CALLED_OFF:
        raise Conflict("called_off", "This visit was called off: nothing was seen on it.")
    if submission is None:
        sent = type(media).objects.filter(viewing=media.viewing, submission=None)
    else:
        sent = type(media).objects.filter(submission=submission)
        require_author(submission, by)
        if not is_open(submission):
            raise Conflict("closed", "It was submitted too long ago to add to it.")
    require_room(sent.count())


def require_author(submission: Submission, by: Person) -> None:
    if submission.author_id != by.id:
        raise NotAllowed("Only its author may add to a submission.", ["author"])


def is_open(submission: Submission) -> bool:
    submitted_at = submission.submitted_at
    return submitted_at is None or timezone.now() - submitted_at <= settings.MEDIA_OPEN_FOR


def _require_finding(media: Photo | Sound) -> None:
    """The checkpoint must be in the submission's findings; taps need a finding of a look."""
    submission, checkpoint = media.submission, media.checkpoint_id
    if checkpoint is None:
        return
    findings = {f.checkpoint_id: f for f in submission.findings.all()} if submission else {}
    if checkpoint not in findings:
        raise Invalid.at(
            "/checkpoint", "no_finding", f"There is no finding on {checkpoint!r} to go with."
        )
    if isinstance(media, Sound) and findings[checkpoint].kind != Finding.Kind.LOOKED:
        raise Invalid.at(
            "/checkpoint", "not_looked", "Recorded taps go with a finding of somebody who looked."
        )


def require_remover(media: Photo | Sound, by: Person, given: Authority | None = None) -> bool:
    """Allow only the sender or an organiser. Returns whether they may at any time."""
    if not given and membership_of(by, media.group_id).role in ALLOWED[Action.MANAGE]:
        return True
    authority_over(media.of, by, Action.SUBMIT, given)
    if media.added_by_id != by.id:
        raise NotAllowed("Only its sender or an organiser may remove it.", ["organiser"])
    return False


@transaction.atomic
def media_remove(
    *,
    media: Photo | Sound,
    by: Person,
    expected_version: int,
    given: Authority | None = None,
) -> None:
    """Remove one's own while its submission is open, or any as an organiser at any time.

    People in it may object. The fact that it existed stays on record.
    """
    at_any_time = require_remover(media, by, given)
    if not at_any_time and media.submission and not is_open(media.submission):
        raise Conflict("closed", "It was submitted too long ago; an organiser can remove it.")
    if isinstance(media, Sound):
        inputs_changed(media.of.list_id)
    media_delete(media, by, expected_version)
