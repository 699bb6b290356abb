"""Links to an assignment's pictures. Each use checks that the access and the token still hold, and
the file may not be cached."""

import time
import uuid

from django.core.signing import BadSignature, Signer
from django.urls import reverse

from apps.accounts.models import Person
from apps.accounts.selectors import token_behind, token_lives
from apps.common.errors import Gone, NotVisible
from apps.second_opinions.access import live_assignments
from apps.second_opinions.models import Assignment
from apps.viewings.media.links import slot
from apps.viewings.media.models import Media, Photo

SALT = "take link 2"


def link(assignment: Assignment, photo: Photo, form: str, reader: Person) -> str:
    """The path and query of the assignee's link to a picture in one form."""
    content = [str(assignment.pk), token_behind(reader), str(photo.pk), form, slot()]
    token = Signer(salt=SALT).sign_object(content)
    return f"{reverse('assignment-media', args=[photo.pk, form])}?token={token}"


def link_open(*, photo_id: uuid.UUID, form: str, token: str) -> Photo:
    """The picture of a link. Raises `NotVisible` for a wrong token or ended access, `Gone` for an
    expired token."""
    try:
        assignment_id, by, *signed, ends = Signer(salt=SALT).unsign_object(token)
    except (BadSignature, ValueError) as error:
        raise NotVisible from error
    if signed != [str(photo_id), form] or form not in Photo.FORMS:
        raise NotVisible
    if ends <= time.time():
        raise Gone("link_ended", "This link has expired. Read the photo again.")
    # A link needs no sign-in, so this also checks that the account is open.
    if not token_lives(by):
        raise NotVisible
    assignments = Assignment.objects.select_related("person").filter(person__is_active=True)
    assignment = assignments.filter(pk=assignment_id).first()
    if (
        assignment is None
        or not live_assignments(assignment.person).filter(pk=assignment_id).exists()
    ):
        raise NotVisible
    photo = Photo.objects.filter(
        pk=photo_id,
        viewing=assignment.viewing_id,
        added_by=assignment.person_id,
        state=Media.State.READY,
    ).first()
    if photo is None:
        raise NotVisible
    return photo
