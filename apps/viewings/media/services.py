"""Services of photos and sounds: add and remove. Jobs read them: see preparing.py."""

import hashlib
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.revisions import inputs_changed
from apps.common.broker import broker
from apps.common.errors import Conflict, FieldFault, Invalid, NotAllowed
from apps.common.services import record_create
from apps.groups.programs import client_note
from apps.groups.rules import ALLOWED, Action, membership_of
from apps.viewings.authority import Authority, authority_over
from apps.viewings.event_records import record_event
from apps.viewings.media import pictures, recordings
from apps.viewings.media.files import file_store, files_prune
from apps.viewings.media.models import Media, Photo, Sound
from apps.viewings.media.reading import format_of
from apps.viewings.models import Finding, Submission, Viewing

AnyMedia = TypeVar("AnyMedia", Photo, Sound)

# Nobody makes more on a visit; a client that sends more has a fault.
MOST_TO_ONE = 300


@dataclass(frozen=True)
class Accepted:
    """The accepted formats and size of a kind of media."""

    formats: tuple[str, ...]
    words: str
    largest: Callable[[], int]


PHOTOS = Accepted(
    pictures.FORMATS, "a JPEG, PNG, WebP or HEIC picture", lambda: settings.PHOTO_LARGEST_BYTES
)
SOUNDS = Accepted(
    recordings.FORMATS, "a WAV or FLAC recording", lambda: settings.SOUND_LARGEST_BYTES
)


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
    return _media_add(photo, by, file, PHOTOS, id, given)


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
    return _media_add(sound, by, file, SOUNDS, id)


def _media_add(
    media: AnyMedia,
    by: Person,
    file: "UploadedFile[bytes]",
    accepted: Accepted,
    id: uuid.UUID | None,
    given: Authority | None = None,
) -> tuple[AnyMedia, bool]:
    media.group_id = authority_over(media.viewing.candidate, by, Action.SUBMIT, given).group_id
    media.made_from = _digest(media, file)
    if id is not None and (stored := _repeated(media, id)):
        return stored, False
    _require_open(media, by)
    _require_finding(media)
    _require_accepted(file, accepted)
    client_note(record=media, by=by, group_id=media.group_id)
    try:
        record_create(media, id)
    except Conflict:
        # A repeat sent at the same time has just been stored.
        if id is not None and (stored := _repeated(media, id)):
            return stored, False
        raise
    file_store(media, "original", file)
    media_event_record("added", media, by)
    send_later(media)
    return media, True


def _digest(media: Photo | Sound, file: "UploadedFile[bytes]") -> str:
    """SHA-256 (hex) of the file and its fields."""
    stated = (media.viewing_id, media.submission_id, media.checkpoint_id, media.note)
    digest = hashlib.sha256(repr((*map(str, stated), getattr(media, "purpose", ""))).encode())
    file.seek(0)
    for chunk in file.chunks():
        digest.update(chunk)
    file.seek(0)
    return digest.hexdigest()


def _repeated(media: AnyMedia, id: uuid.UUID) -> AnyMedia | None:
    stored = type(media)._base_manager.filter(pk=id).first()
    if stored is None:
        return None
    if (stored.added_by_id, stored.made_from) != (media.added_by_id, media.made_from):
        raise Conflict("id_taken", "This id is in use already, for something else.")
    return stored


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
    if sent.count() >= MOST_TO_ONE:
        raise Conflict("too_many", f"There are {MOST_TO_ONE} here already.")


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


def _require_accepted(file: "UploadedFile[bytes]", accepted: Accepted) -> None:
    fault = None
    if (file.size or 0) > accepted.largest():
        fault = FieldFault("/file", "too_large", f"At most {accepted.largest()} bytes.")
    elif format_of(file) not in accepted.formats:
        fault = FieldFault("/file", "not_accepted", f"Send {accepted.words}.")
    if fault:
        raise Invalid([fault])


def require_remover(media: Photo | Sound, by: Person, given: Authority | None = None) -> bool:
    """Allow only the sender or an organiser. Returns whether they may at any time."""
    if not given and membership_of(by, media.group_id).role in ALLOWED[Action.MANAGE]:
        return True
    authority_over(media.viewing.candidate, by, Action.SUBMIT, given)
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
    media.save_changes(expected_version=expected_version, fields=[])
    if isinstance(media, Sound):
        inputs_changed(media.viewing.candidate.list_id)
    media_event_record("removed", media, by, deleted=True)
    files_prune([media])
    media.delete()


def media_event_record(
    what: str, media: Photo | Sound, by: Person | None, *, deleted: bool = False
) -> None:
    """Record the event, for the author only if it belongs to a draft."""
    submission = media.submission
    only_for = None
    if submission is not None and submission.state == Submission.State.DRAFT:
        only_for = submission.author_id
    record_event(
        f"{media._meta.model_name}.{what}",
        media,
        media.viewing.candidate,
        by,
        deleted=deleted,
        only_for=only_for,
        viewing=str(media.viewing_id),
        submission=str(submission.pk) if submission else None,
        checkpoint=media.checkpoint_id,
        state=media.state,
    )


def send_later(media: Media) -> None:
    """Send a worker's task after the commit; if the message is lost, the sweep finds it."""
    transaction.on_commit(
        lambda: broker.send(f"apps.viewings.tasks.prepare_{media._meta.model_name}", str(media.pk)),
        robust=True,
    )
