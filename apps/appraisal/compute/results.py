"""The part of a computation that is stored."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypedDict

from apps.appraisal.board.answer import board_body
from apps.appraisal.board.board import standing_serialized
from apps.appraisal.compute.computing import Computed, with_only
from apps.appraisal.compute.consensus import consensus_of
from apps.appraisal.compute.cost_rows import rollups_of
from apps.appraisal.compute.reasons import reasons_of, stands_of
from apps.appraisal.opinions import Opinions
from apps.appraisal.ready import Ready, marked
from apps.appraisal.stored.candidates import Consensus, ExplainedChanges, StoredRollup
from apps.appraisal.stored.looks import NextLooks
from apps.appraisal.stored.standing import Reasons, Stands, StoredStanding


@dataclass(frozen=True)
class Narrower:
    """Results from some opinions only: the list's, and those that replace each boat's own."""

    opinions: Opinions
    results: StoredStanding | NextLooks
    boats: Mapping[str, Stands | ExplainedChanges]


class BoatResults(TypedDict):
    rollup: StoredRollup
    consensus: Consensus
    reasons: Reasons


@dataclass(frozen=True)
class Results:
    """Results of one list and of each candidate.

    narrower: the results for readers who may see only some of the opinions. answers: the board for
    each of these and for who may see all, as it is sent.
    """

    edition: int
    standing: StoredStanding
    candidates: Mapping[uuid.UUID, BoatResults]
    club_edition: int = 0
    group_edition: int = 0
    narrower: tuple[Narrower, ...] = ()
    answers: tuple[Ready, ...] = ()


def results_of(computed: Computed) -> Results:
    standing = standing_serialized(computed)
    narrower = {seen: with_only(computed, seen) for seen in computed.inputs.narrower()}
    standings = {seen: standing_serialized(one) for seen, one in narrower.items()}
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
        narrower=tuple(
            Narrower(seen, standings[seen], boats_stands(one)) for seen, one in narrower.items()
        ),
        answers=(
            board_ready(computed.inputs.opinions, standing),
            *(board_ready(seen, narrow) for seen, narrow in standings.items()),
        ),
    )


def board_ready(opinions: Opinions, standing: StoredStanding) -> Ready:
    return Ready(opinions, marked(lambda names: board_body(standing, names)))


def boats_stands(computed: Computed) -> dict[str, Stands]:
    boats = zip(computed.inputs.boats, stands_of(computed), strict=True)
    return {str(boat.id): stands for boat, stands in boats}
