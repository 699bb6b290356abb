"""Recorded taps on a checkpoint of one boat: one rough report from all of them together.

It is a measured value, not a verdict. It belongs to a finding of somebody who looked, so it never
makes a checkpoint count as looked at. It raises no doubt, clears none, and is never 'failed'.
"""

import uuid
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from apps.appraisal.stored.candidates import Sureness
from apps.catalogue.scales import ScaleEntry
from apps.reckoning.sound import compare
from apps.viewings.facts import LiveFinding
from apps.viewings.media.facts import LiveSound
from apps.viewings.media.selectors import rings_of

SCALE = "tap-dull-share"
# With this many taps on either side the report is fairly sure; with fewer it is a guess. Own
# choice.
ENOUGH_TAPS = 10

Taps = list[Mapping[str, Any]]


@dataclass(frozen=True)
class Tapped:
    """The level from the taps, and the latest finding that they belong to."""

    finding: LiveFinding
    level: int
    sureness: Sureness


@dataclass
class Heard:
    """All taps on one checkpoint of one boat."""

    taps: Taps = field(default_factory=list)
    reference: Taps = field(default_factory=list)
    finding: LiveFinding | None = None


def tap_reports(
    sounds: Iterable[LiveSound],
    looks: Iterable[LiveFinding],
    scale: ScaleEntry,
    *,
    mended_since: Callable[[LiveFinding], bool] = lambda _: False,
) -> Iterator[Tapped]:
    """One report for each checkpoint of a boat with enough taps and reference taps to compare.

    looks: findings of those who looked, oldest first. Taps that belong to none of them do not
    count; nor do taps, other than reference taps, on a part that was `mended_since`.
    """
    for heard in _heard(sounds, looks, mended_since):
        taps, reference = rings_of(heard.taps), rings_of(heard.reference)
        found = compare(taps, reference)
        if found is not None and heard.finding is not None:
            enough = min(len(taps), len(reference)) >= ENOUGH_TAPS
            level = scale.level(100 * found.dull_share)
            yield Tapped(heard.finding, level, "fairly" if enough else "guess")


def _heard(
    sounds: Iterable[LiveSound],
    looks: Iterable[LiveFinding],
    mended_since: Callable[[LiveFinding], bool],
) -> Iterable[Heard]:
    recorded = defaultdict(list)
    for sound in sounds:
        recorded[sound.submission_id, sound.checkpoint].append(sound)
    places: dict[tuple[uuid.UUID, str], Heard] = defaultdict(Heard)
    for look in looks:
        for sound in recorded[look.submission_id, look.checkpoint]:
            heard = places[look.candidate_id, look.checkpoint]
            if sound.is_reference:
                heard.reference += sound.taps
            elif not mended_since(look):
                heard.taps += sound.taps
                heard.finding = look
    return places.values()
