"""Reads, scoped to the reader: what goes with a draft is its author's alone."""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
from django.db.models import Q, QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person, Program
from apps.accounts.selectors import token_lives
from apps.groups.rules import visible_groups
from apps.reckoning.sound import Rings
from apps.viewings.media.links import Opened
from apps.viewings.media.models import Media, Photo, Sound
from apps.viewings.models import LIVE, Submission

SENT = Q(submission__state=Submission.State.SUBMITTED)


def photos_visible(person: Person) -> QuerySet[Photo]:
    return _visible(Photo.objects.all(), person, Q(submission=None) | SENT)


def sounds_visible(person: Person) -> QuerySet[Sound]:
    return _visible(Sound.objects.all(), person, SENT)


def _visible(media: QuerySet[Any], person: Person, sent: Q) -> QuerySet[Any]:
    return media.filter(
        sent | Q(submission__author=person), group__in=visible_groups(person)
    ).select_related("viewing__candidate__list", "submission", "added_by")


def photo_for(person: Person, photo_id: uuid.UUID) -> Photo:
    return get_object_or_404(photos_visible(person), pk=photo_id)


def sound_for(person: Person, sound_id: uuid.UUID) -> Sound:
    return get_object_or_404(sounds_visible(person), pk=sound_id)


def narrowed(media: QuerySet[Any], query: Mapping[str, Any], *names: str) -> QuerySet[Any]:
    """Only those that have what the query names."""
    return media.filter(**{name: query[name] for name in names if name in query})


def media_behind(opened: Opened) -> Media:
    """What a link opens, for as long as whoever it was given to is signed in and may see it.

    Raises 404.
    """
    if not token_lives(opened.token):
        raise Http404
    person = get_object_or_404(Person, pk=opened.person, is_active=True)
    if opened.program is not None:
        program = get_object_or_404(Program, pk=opened.program, enabled=True)
        person.via = program.access(set())
    seen = photos_visible(person) if opened.kind is Photo else sounds_visible(person)
    return get_object_or_404(seen, pk=opened.id, state=Media.State.READY)


def reference_rings(person: Person, candidate_id: uuid.UUID) -> dict[str, Rings]:
    """How the reference taps on a boat rang, by checkpoint: those that count and one's own drafts.

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
    """How these stored taps rang, without those whose decay cannot be told."""
    measured = [tap for tap in taps if tap["decay_s"] is not None]
    return Rings(
        decay_s=np.array([tap["decay_s"] for tap in measured], dtype=np.float64),
        frequency_hz=np.array([tap["frequency_hz"] for tap in measured], dtype=np.float64),
    )
