"""Views of photos and sounds. Only here are bodies forms, because they carry a file."""

import hashlib
import uuid
from collections.abc import Mapping
from typing import Any, ClassVar

from django.conf import settings
from django.core.exceptions import SuspiciousOperation
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponseBase, QueryDict
from django.http.multipartparser import MultiPartParserError
from drf_spectacular.utils import extend_schema
from rest_framework.exceptions import APIException, ParseError
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.common.digests import digest_of
from apps.common.errors import StorageFailed, is_full
from apps.groups.needs import in_group_of_viewing
from apps.groups.rules import Action, require
from apps.http.pages import page, page_of
from apps.http.views import View, no_content, person_of, versioned_response
from apps.viewings.api.media_serializers import (
    MediaQuery,
    PhotoBody,
    PhotoSerializer,
    SoundBody,
    SoundQuery,
    SoundSerializer,
    VisitPhotoBody,
)
from apps.viewings.media import links, selectors, services
from apps.viewings.media.models import Media, Photo, Sound
from apps.viewings.selectors import submission_for, viewing_for

FORM = "multipart/form-data"
# Room in a form for more than its file: the other fields and the lines between them.
FORM_BYTES = 64 * 1024


class FileTooLarge(APIException):
    status_code = 413
    default_code = "too_large"


class UploadView(View):
    """Takes a form with one file.

    The form is read before the transaction starts, because a phone on a slow line must not make all
    writers wait.
    """

    parser_classes = [MultiPartParser]
    largest_bytes: ClassVar[str]  # the setting with the largest size of a file
    fault: Exception | None = None

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if request.method == "POST" and self.fits(request):
            try:
                _ = request.POST
            except (MultiPartParserError, SuspiciousOperation) as error:
                self.fault = error  # raised once the reader is known
            except OSError as error:  # a large form is in a temporary file
                if not is_full(error):
                    raise
                self.fault = StorageFailed(full=True)
        return super().dispatch(request, *args, **kwargs)

    def fits(self, request: HttpRequest | Request) -> bool:
        most: int = getattr(settings, self.largest_bytes) + FORM_BYTES
        return int(request.META.get("CONTENT_LENGTH") or 0) <= most

    def require_length(self, request: Request) -> None:
        super().require_length(request)
        if request.method != "POST":
            return
        if not self.fits(request):
            raise FileTooLarge(f"A file has at most {getattr(settings, self.largest_bytes)} bytes.")
        if isinstance(self.fault, StorageFailed):
            raise self.fault
        if self.fault is not None:
            raise ParseError("The form cannot be read.")

    def sent(self, request: Request) -> bytes:
        """The fields of the form, without its boundary, which differs between attempts."""
        answer = hashlib.sha256()
        form = request.data
        if not isinstance(form, QueryDict):
            return b""  # no form was sent
        for name, values in sorted(form.lists()):
            for value in values:
                answer.update(repr((name, content_of(value))).encode())
        return answer.digest()


def content_of(value: Any) -> str:
    if not isinstance(value, UploadedFile):
        return str(value)
    sent: Any = value.file  # has attributes that the stubs lack
    digest = hashlib.file_digest(sent, "sha256").hexdigest()
    value.seek(0)
    return digest


def own_submission(person: Person, named: Mapping[str, Any]) -> None:
    submission = submission_for(person, named["submission_id"])
    require(person, Action.SUBMIT, submission.viewing.candidate.list.group_id)
    services.require_author(submission, person)


def remover_of_photo(person: Person, named: Mapping[str, Any]) -> None:
    services.require_remover(selectors.photo_for(person, named["photo_id"]), person)


def remover_of_sound(person: Person, named: Mapping[str, Any]) -> None:
    services.require_remover(selectors.sound_for(person, named["sound_id"]), person)


# --- Photos --------------------------------------------------------------------------------------


class SubmissionPhotosView(UploadView):
    scopes = {"GET": "findings:read", "POST": "findings:write"}
    needs = {"POST": own_submission}
    query_serializer = MediaQuery
    largest_bytes = "PHOTO_LARGEST_BYTES"

    @extend_schema(operation_id="submission_photos_list", responses=page_of(PhotoSerializer))
    def get(self, request: Request, submission_id: uuid.UUID) -> Response:
        """The pictures of a submission and its findings."""
        return photos_page(self, request, submission=submission_for(self.person, submission_id))

    @extend_schema(
        operation_id="submission_photos_create",
        request={FORM: PhotoBody},
        responses={201: PhotoSerializer, 200: PhotoSerializer, 507: None},
    )
    def post(self, request: Request, submission_id: uuid.UUID) -> Response:
        """Add a picture to your own submission, or to one finding in it.

        A draft takes pictures at any time, a submitted one for seven days (the operator may set
        another time). A job reads the picture: `state` changes from processing to ready, or to
        rejected with a `fault`. The service keeps a new JPEG without place, device or other data.

        The body is a form; pointers in a refusal name its fields. A repeat under the same
        client-made id answers 200 with what is stored.
        """
        submission = submission_for(self.person, submission_id)
        photo, is_new = services.photo_add(
            viewing=submission.viewing,
            submission=submission,
            by=self.person,
            **self.read_body(PhotoBody),
        )
        return photo_response(request, photo.pk, status=201 if is_new else 200)


class ViewingPhotosView(UploadView):
    scopes = {"GET": "findings:read", "POST": "findings:write"}
    needs = {"POST": in_group_of_viewing(Action.SUBMIT)}
    query_serializer = MediaQuery
    largest_bytes = "PHOTO_LARGEST_BYTES"

    @extend_schema(operation_id="viewing_photos_list", responses=page_of(PhotoSerializer))
    def get(self, request: Request, viewing_id: uuid.UUID) -> Response:
        """The pictures of a visit, with or without a submission."""
        return photos_page(self, request, viewing=viewing_for(self.person, viewing_id))

    @extend_schema(
        operation_id="viewing_photos_create",
        request={FORM: VisitPhotoBody},
        responses={201: PhotoSerializer, 200: PhotoSerializer, 507: None},
    )
    def post(self, request: Request, viewing_id: uuid.UUID) -> Response:
        """Add a picture to a visit without a submission, for example of the whole boat.

        The rest is as for a submission's pictures.
        """
        photo, is_new = services.photo_add(
            viewing=viewing_for(self.person, viewing_id),
            by=self.person,
            **self.read_body(VisitPhotoBody),
        )
        return photo_response(request, photo.pk, status=201 if is_new else 200)


class CandidatePhotosView(View):
    scopes = {"GET": "findings:read"}
    query_serializer = MediaQuery

    @extend_schema(operation_id="candidate_photos_list", responses=page_of(PhotoSerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The pictures of a candidate from all visits."""
        candidate = candidate_for(self.person, candidate_id)
        return photos_page(self, request, viewing__candidate=candidate)


class PhotoView(View):
    scopes = {"GET": "findings:read", "DELETE": "findings:write"}
    needs = {"DELETE": remover_of_photo}

    @extend_schema(operation_id="photos_read", responses=PhotoSerializer)
    def get(self, request: Request, photo_id: uuid.UUID) -> Response:
        """One picture: its state, and links that work for a limited time."""
        return photo_response(request, photo_id)

    @extend_schema(operation_id="photos_remove", request=None, responses={204: None})
    def delete(self, request: Request, photo_id: uuid.UUID) -> Response:
        """Remove your own picture while its submission is open; an organiser can at any time."""
        return removed(self, selectors.photo_for(self.person, photo_id))


def photo_response(request: Request, photo_id: uuid.UUID, *, status: int = 200) -> Response:
    photo = selectors.photo_for(person_of(request), photo_id)
    answer = PhotoSerializer(photo, context={"request": request}).data
    return versioned_response(
        photo, answer, status=status, variant=link_variant(photo, person_of(request))
    )


def photos_page(view: View, request: Request, **of: Any) -> Response:
    photos = selectors.photos_visible(view.person).filter(**of)
    photos = selectors.narrowed(photos, view.query, "checkpoint")
    return page(request, photos, view.query, PhotoSerializer)


def removed(view: View, media: Photo | Sound) -> Response:
    services.media_remove(
        media=media, by=view.person, expected_version=view.expected_version(media)
    )
    return no_content()


def link_variant(media: Media, reader: Person) -> str:
    """The ETag's variant: answers with other links differ."""
    return links.variant(reader) if media.state == Media.State.READY else ""


# --- Sounds --------------------------------------------------------------------------------------


class SubmissionSoundsView(UploadView):
    scopes = {"GET": "findings:read", "POST": "findings:write"}
    needs = {"POST": own_submission}
    query_serializer = SoundQuery
    largest_bytes = "SOUND_LARGEST_BYTES"

    @extend_schema(operation_id="submission_sounds_list", responses=page_of(SoundSerializer))
    def get(self, request: Request, submission_id: uuid.UUID) -> Response:
        """The recorded taps of a submission's findings."""
        submission = submission_for(self.person, submission_id)
        boat = submission.viewing.candidate_id
        return sounds_page(self, request, boat, submission=submission)

    @extend_schema(
        operation_id="submission_sounds_create",
        request={FORM: SoundBody},
        responses={201: SoundSerializer, 200: SoundSerializer, 507: None},
    )
    def post(self, request: Request, submission_id: uuid.UUID) -> Response:
        """Add recorded taps to a finding of your own submission.

        A job measures how long each tap rings and at which pitch. Compared with reference taps on
        the same boat this gives a rough measured value, which counts as a separate rater. It is
        never a verdict, raises no doubt and clears none. The rest is as for pictures.
        """
        submission = submission_for(self.person, submission_id)
        sound, is_new = services.sound_add(
            submission=submission, by=self.person, **self.read_body(SoundBody)
        )
        return sound_response(request, sound.pk, status=201 if is_new else 200)


class CandidateSoundsView(View):
    scopes = {"GET": "findings:read"}
    query_serializer = SoundQuery

    @extend_schema(operation_id="candidate_sounds_list", responses=page_of(SoundSerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The recorded taps on a candidate from all visits."""
        candidate = candidate_for(self.person, candidate_id)
        return sounds_page(self, request, candidate.pk, viewing__candidate=candidate)


class SoundView(View):
    scopes = {"GET": "findings:read", "DELETE": "findings:write"}
    needs = {"DELETE": remover_of_sound}

    @extend_schema(operation_id="sounds_read", responses=SoundSerializer)
    def get(self, request: Request, sound_id: uuid.UUID) -> Response:
        """One recording: its taps, their comparison, and links that work for a limited time."""
        return sound_response(request, sound_id)

    @extend_schema(operation_id="sounds_remove", request=None, responses={204: None})
    def delete(self, request: Request, sound_id: uuid.UUID) -> Response:
        """Remove your own recording while its submission is open; an organiser can at any time."""
        return removed(self, selectors.sound_for(self.person, sound_id))


def sounds_page(view: View, request: Request, candidate_id: uuid.UUID, **of: Any) -> Response:
    sounds = selectors.sounds_visible(view.person).filter(**of)
    sounds = selectors.narrowed(sounds, view.query, "checkpoint", "purpose")
    references = selectors.reference_rings(view.person, candidate_id)
    return page(request, sounds, view.query, SoundSerializer, references=references)


def sound_response(request: Request, sound_id: uuid.UUID, *, status: int = 200) -> Response:
    sound = selectors.sound_for(person_of(request), sound_id)
    references = selectors.reference_rings(person_of(request), sound.viewing.candidate_id)
    answer = SoundSerializer(sound, context={"request": request, "references": references}).data
    # The comparison depends on the reference taps.
    compared = digest_of(answer["comparison"]) if answer["comparison"] else ""
    return versioned_response(
        sound, answer, status=status, variant=f"{link_variant(sound, person_of(request))}{compared}"
    )
