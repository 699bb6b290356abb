"""Work that a surveyor priced is needed, whatever the catalogue makes of the levels.

Where he priced what he found, this also stands in place of what the level alone calls for there.
"""

import uuid
from collections.abc import Mapping, Sequence
from datetime import date

import numpy as np

from apps.appraisal.compute.inputs import EvidenceInputs, Inputs
from apps.appraisal.compute.statements import mended_since, repairs_of
from apps.purchase.facts import LiveQuote
from apps.reckoning.arrays import Bools
from apps.reckoning.levels import LEVELS


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


def answered_levels(
    boat_id: uuid.UUID, inputs: Inputs, links: Sequence[tuple[str, str]], stated: Bools
) -> Bools:
    """(T, 5): at which levels a link calls for nothing, because a surveyor priced other work there.

    These are the levels up to the one that he reported: if the part turns out to be worse, the
    catalogue's level decides again. links: (T,) codes of checkpoint and remedy. stated: (T,) links
    of remedies that a surveyor priced (`stated_links`), which stay; a price that does not count,
    or that was seen to since, silences nothing.
    """
    counted = {links[t][1] for t in np.flatnonzero(stated).tolist()}
    repaired = repairs_of(inputs)
    looks = {
        (one.submission_id, one.checkpoint): one
        for one in inputs.findings
        if one.candidate_id == boat_id and one.level is not None
    }
    up_to: dict[str, int] = {}
    for one in inputs.priced:
        look = looks.get((one.submission_id, one.checkpoint))
        if one.remedy in counted and look is not None and not mended_since(look, repaired):
            up_to[one.checkpoint] = max(look.level or 0, up_to.get(one.checkpoint, 0))
    reported = np.array([up_to.get(checkpoint, -1) for checkpoint, _ in links], dtype=np.intp)
    answered: Bools = ~stated[:, None] & (np.arange(LEVELS) <= reported[:, None])
    return answered


def _reported(boat_id: uuid.UUID, evidence: EvidenceInputs) -> set[str]:
    """The checkpoints on which a professional reported."""
    return {
        one.checkpoint
        for one in evidence.findings
        if one.candidate_id == boat_id and one.professional and one.level is not None
    }
