"""The part of a computation that is stored."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from apps.appraisal.board.answer import board_body
from apps.appraisal.board.board import standing_serialized
from apps.appraisal.compute.computing import Computed, with_only
from apps.appraisal.compute.consensus import consensus_of
from apps.appraisal.compute.cost_rows import rollups_of
from apps.appraisal.compute.reasons import reasons_of, stands_of
from apps.appraisal.figures import Json
from apps.appraisal.opinions import Opinions
from apps.appraisal.ready import Ready, marked


@dataclass(frozen=True)
class Narrower:
    """Results from some opinions only: the list's, and those that replace each boat's own."""

    opinions: Opinions
    results: Json
    boats: Mapping[str, Json]


@dataclass(frozen=True)
class Results:
    """Results of one list; `candidates` holds each one's rollup, consensus and reasons.

    narrower: the results for readers who may see only some of the opinions. answers: the board for
    each of these and for who may see all, as it is sent.
    """

    edition: int
    standing: Json = field(default_factory=dict)
    candidates: Mapping[uuid.UUID, Json] = field(default_factory=dict)
    club_edition: int = 0
    group_edition: int = 0
    narrower: tuple[Narrower, ...] = ()
    answers: tuple[Ready, ...] = ()


def results_of(computed: Computed) -> Results:
    standing = standing_serialized(computed)
    narrower = tuple(narrower_of(computed, seen) for seen in computed.inputs.narrower())
    consensus = consensus_of(computed)
    per_boat = zip(
        computed.inputs.boats,
        rollups_of(computed),
        consensus,
        reasons_of(computed, consensus),
        strict=True,
    )
    return Results(
        edition=computed.inputs.snapshot.edition,
        standing=standing,
        candidates={
            boat.id: {"rollup": rollup, "consensus": agreed, "reasons": reasons}
            for boat, rollup, agreed, reasons in per_boat
        },
        club_edition=computed.inputs.snapshot.club_edition,
        group_edition=computed.inputs.snapshot.group_edition,
        narrower=narrower,
        answers=(
            board_ready(computed.inputs.opinions, standing),
            *(board_ready(one.opinions, one.results) for one in narrower),
        ),
    )


def board_ready(opinions: Opinions, standing: Json) -> Ready:
    stored: Any = standing  # of this very shape, as a test shows
    return Ready(opinions, marked(lambda names: board_body(stored, names)))


def narrower_of(computed: Computed, seen: Opinions) -> Narrower:
    as_seen = with_only(computed, seen)
    boats = zip(computed.inputs.boats, stands_of(as_seen), strict=True)
    return Narrower(
        opinions=seen,
        results=standing_serialized(as_seen),
        boats={str(boat.id): stands for boat, stands in boats},
    )
