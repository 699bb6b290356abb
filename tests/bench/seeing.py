"""Simulates what people see and report in a season (`seasons`)."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.grader_priors import WIDENING
from apps.reckoning.levels import discretised_normal
from apps.reckoning.reporting import with_slips
from apps.viewings.facts import ConditionsMet, LiveFinding
from tests.bench.worlds import (
    FIRST_VISIT,
    PEOPLE,
    Rater,
    Season,
    World,
    heavy_tailed,
    new_id,
    one_of_each,
    rounded,
)

LAY_SO = ConditionsMet("", None, "", None, None, None, "", "")
SURENESS = tuple(WIDENING)


def first_looks(
    played: Season, i: int, share: float, rng: np.random.Generator
) -> list[LiveFinding]:
    """One to three people go and look at this share of a boat between them."""
    who = rng.permutation(PEOPLE)[: rng.integers(1, PEOPLE + 1)]
    seen = visible(played, i) & (rng.random(len(played.area)) < chance_to_see(played, i, share))
    looked = (rng.random((len(who), len(seen))) < 0.5) & seen
    looked[rng.integers(len(who), size=len(seen)), np.arange(len(seen))] |= seen
    at = FIRST_VISIT + timedelta(days=int(rng.integers(40)))
    findings = []
    for person, theirs in zip(who, looked, strict=True):
        rater = played.truth.raters[int(person)]
        findings += looks_of(played, i, rater, np.flatnonzero(theirs), at, rng)
    return findings


def visible(played: Season, i: int) -> Bools:
    """(J,): what a member can look at on this boat."""
    theirs = [not checkpoint.professional_only for checkpoint in played.arrays.checkpoints]
    return played.arrays.fleet.applies[i] & np.array(theirs)


def chance_to_see(played: Season, i: int, share: float) -> Floats:
    """(J,) chance that a checkpoint is looked at, about this share on average."""
    return np.minimum(share * np.exp(-played.world.hiding * (played.truth.level[i] - 1.0)), 1.0)


def looks_of(
    played: Season,
    i: int,
    rater: Rater,
    checkpoints: Ints,
    at: datetime,
    rng: np.random.Generator,
    sureness: Sequence[str] = SURENESS,
    hampered: Bools | None = None,
) -> list[LiveFinding]:
    """One person's reports on these checkpoints of a boat, from one visit.

    hampered: (J,) of what no more than a guess comes.
    """
    sure = rng.choice(len(sureness), len(checkpoints))
    if hampered is not None:
        sure[hampered[checkpoints]] = sureness.index("guess")
    level = reported(
        played.truth.level[i, checkpoints],
        rater.lean + rater.by_area[played.area[checkpoints]],
        rater.spread * np.array([WIDENING[how] for how in sureness])[sure],
        rater.slip,
        played.world,
        rng,
    )
    boat, viewing = played.inputs.boats[i].id, new_id(rng)
    return [
        LiveFinding(
            checkpoint=played.arrays.checkpoints[j].code,
            checkpoint_version_id=1,
            kind="looked",
            level=int(said),
            reason="",
            sureness=sureness[how],
            measured_value=None,
            measured_unit="",
            candidate_id=boat,
            submission_id=viewing,
            author_id=rater.person_id,
            author_name="",
            capacity="member",
            profession="",
            viewing_id=viewing,
            seen_at=at,
            submitted_at=at,
            conditions=LAY_SO,
        )
        for j, said, how in zip(checkpoints, level, sure, strict=True)
    ]


def reported(
    true: Ints, lean: Floats, spread: Floats, slip: float, world: World, rng: np.random.Generator
) -> Ints:
    """(N,) reported levels of true ones. Heavy tails include mistakes."""
    if world.tails is None:
        return one_of_each(report_chances(true + lean, spread, slip), rng)
    return rounded(true + lean + spread * heavy_tailed(world.tails, true.shape, rng))


def report_chances(meant: Floats, spread: Floats | float, slip: float) -> Floats:
    """(..., 5) the model's chance of each report. meant: true level and lean."""
    return with_slips(discretised_normal(meant, spread), slip)


def visit_of(
    played: Season,
    i: int,
    person: int,
    open_to: Bools,
    turn: int,
    rng: np.random.Generator,
    hampered: Bools | None = None,
) -> list[LiveFinding]:
    """One more visit to a boat by one person; open_to: (J,) what can be looked at, hampered: (J,)
    and how much of it no better than at a guess."""
    seen = open_to & (rng.random(len(open_to)) < chance_to_see(played, i, 1.0))
    at = FIRST_VISIT + timedelta(days=60 + 10 * turn)
    rater = played.truth.raters[person]
    return looks_of(played, i, rater, np.flatnonzero(seen), at, rng, hampered=hampered)


def survey_of(played: Season, i: int, rng: np.random.Generator) -> list[LiveFinding]:
    """A surveyor's reports on all that applies, drawn from the model's prior of surveyors."""
    surveyor = Rater(
        played.inputs.buyers[0].person_id,  # who enters it
        lean=float(rng.normal(0, 0.15)),
        spread=float(np.clip(0.3 * rng.lognormal(0, 0.25), 0.2, 1.8)),
        by_area=np.zeros_like(played.truth.raters[0].by_area),
        slip=0.0,
    )
    every, at = np.flatnonzero(played.arrays.fleet.applies[i]), FIRST_VISIT + timedelta(days=60)
    found = looks_of(played, i, surveyor, every, at, rng, sureness=("sure",))
    return [replace(one, capacity="professional", profession="surveyor") for one in found]
