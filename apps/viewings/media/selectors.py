"""Reads with the reader's scope: only its author sees a draft's photos and sounds."""

import uuid
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from typing import Any

import numpy as np
from django.db.models import Q, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person, Program
from apps.accounts.selectors import token_lives
from apps.groups.rules import visible_groups
from apps.reckoning.sound import Rings
from apps.viewings.media.document_models import GateDocument
from apps.viewings.media.links import Opened
from apps.viewings.media.models import Media, Photo, SellerPhoto, Sound
from apps.viewings.models import LIVE, Submission

SENT = Q(submission__state=Submission.State.SUBMITTED)


def photos_visible(person: Person) -> QuerySet[Photo]:
    return _visible(Photo.objects.all(), person, Q(submission=None) | SENT)


def sounds_visible(person: Person) -> QuerySet[Sound]:
    return _visible(Sound.objects.all(), person, SENT)


def seller_photos_visible(person: Person) -> QuerySet[SellerPhoto]:
    return SellerPhoto.objects.filter(group__in=visible_groups(person)).select_related(
        "candidate__list", "added_by"
    )


def gate_documents_visible(person: Person) -> QuerySet[GateDocument]:
    return GateDocument.objects.filter(group__in=visible_groups(person)).select_related(
        "candidate__list", "added_by"
    )


def _visible(media: QuerySet[Any], person: Person, sent: Q) -> QuerySet[Any]:
    return media.filter(
        sent | Q(submission__author=person), group__in=visible_groups(person)
    ).select_related("viewing__candidate__list", "submission", "added_by")


def photo_for(person: Person, photo_id: uuid.UUID) -> Photo:
    return get_object_or_404(photos_visible(person), pk=photo_id)


def sound_for(person: Person, sound_id: uuid.UUID) -> Sound:
    return get_object_or_404(sounds_visible(person), pk=sound_id)


def seller_photo_for(person: Person, photo_id: uuid.UUID) -> SellerPhoto:
    return get_object_or_404(seller_photos_visible(person), pk=photo_id)


def gate_document_for(person: Person, document_id: uuid.UUID) -> GateDocument:
    return get_object_or_404(gate_documents_visible(person), pk=document_id)


VISIBLE: Mapping[type[Media], Callable[[Person], QuerySet[Any]]] = {
    Photo: photos_visible,
    Sound: sounds_visible,
    SellerPhoto: seller_photos_visible,
    GateDocument: gate_documents_visible,
}


def narrowed(media: QuerySet[Any], query: Mapping[str, Any], *names: str) -> QuerySet[Any]:
    """Only the media that match the query."""
    return media.filter(**{name: query[name] for name in names if name in query})


def media_behind(opened: Opened) -> Media:
    """The file of a link, if the link's person is still signed in and may see it.

    Raises 404.
    """
    if not token_lives(opened.token):
        raise Http404
    person = get_object_or_404(Person, pk=opened.person, is_active=True)
    if opened.program is not None:
        program = get_object_or_404(Program, pk=opened.program, enabled=True)
        person.via = program.access(set())
    found: Media = get_object_or_404(
        VISIBLE[opened.kind](person), pk=opened.id, state=Media.State.READY
    )
    return found


def reference_rings(person: Person, candidate_id: uuid.UUID) -> dict[str, Rings]:
    """A boat's measured reference taps by checkpoint: those that count, and in the reader's drafts.

    One query.
    """
    counting = Q(submission__in=Submission.objects.filter(LIVE)) | Q(
        submission__author=person, submission__state=Submission.State.DRAFT
    )
    taps: dict[str, list[dict[str, Any]]] = defaultdict(list)
    rows = Sound.objects.filter(
        counting,
        viewing__candidate=candidate_id,
        state=Media.State.READY,
        purpose=Sound.Purpose.REFERENCE,
    ).order_by("pk")
    for checkpoint, found in rows.values_list("checkpoint_id", "taps"):
        taps[checkpoint] += found
    return {checkpoint: rings_of(found) for checkpoint, found in taps.items()}


def rings_of(taps: Iterable[Mapping[str, Any]]) -> Rings:
    """The measurements of these stored taps, without those of unknown decay."""
    measured = [tap for tap in taps if tap["decay_s"] is not None]
    return Rings(
        decay_s=np.array([tap["decay_s"] for tap in measured], dtype=np.float64),
        frequency_hz=np.array([tap["frequency_hz"] for tap in measured], dtype=np.float64),
    )
