"""Work that a surveyor priced is needed, whatever the catalogue makes of the levels."""

import uuid
from collections.abc import Mapping, Sequence
from datetime import date

import numpy as np

from apps.appraisal.compute.inputs import EvidenceInputs
from apps.appraisal.compute.statements import repairs_of
from apps.purchase.facts import LiveQuote
from apps.reckoning.arrays import Bools


def stated_links(
    boat_id: uuid.UUID,
    evidence: EvidenceInputs,
    quotes: Mapping[str, LiveQuote],
    links: Sequence[tuple[str, str]],
    applies: Bools,
) -> Bools:
    """(T,): which links call for a remedy that a surveyor priced, and nobody did since.

    quotes: by remedy. links: (T,) codes of checkpoint and remedy. applies: (T,) whether the boat
    has what the checkpoint is about. Where a professional reported on some of a remedy's
    checkpoints, the others do not call for it.
    """
    surveyed = {remedy: q.surveyed_on for remedy, q in quotes.items() if q.surveyed_on is not None}
    stated = np.zeros(len(links), dtype=np.bool_)
    if not surveyed:
        return stated
    reported, repaired = _reported(boat_id, evidence), repairs_of(evidence)
    for remedy, priced_on in surveyed.items():
        calling = [t for t, (_, code) in enumerate(links) if code == remedy and applies[t]]
        calling = [t for t in calling if links[t][0] in reported] or calling
        mended = [repaired.get((boat_id, links[t][0]), date.min) for t in calling]
        stated[calling] = all(day < priced_on for day in mended)
    return stated


def _reported(boat_id: uuid.UUID, evidence: EvidenceInputs) -> set[str]:
    """The checkpoints on which a professional reported."""
    return {
        one.checkpoint
        for one in evidence.findings
        if one.candidate_id == boat_id and one.professional and one.level is not None
    }
