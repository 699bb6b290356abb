"""From findings to the arrays that the belief is fitted to.

A grader is a person in one capacity: somebody who also enters a surveyor's report is two graders.
A meter read on a published scale is a tight grader too; its reader counts beside it only where
they say something else than the scale does. A document that clears a doubt is another; what was
seen before a documented repair is no longer evidence of how the boat is.
"""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from apps.appraisal.inputs import Boat, Inputs
from apps.catalogue.applicability import applies
from apps.catalogue.content import Catalogue, Checkpoint
from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.belief import REFERENCE_AGE, CheckpointPriors, Fleet, Reports
from apps.reckoning.graders import WIDENING, GraderPriors, member_prior, surveyor_prior
from apps.viewings.doubts import OpenDoubt, doubts_left
from apps.viewings.facts import LiveClearance, LiveFinding
from apps.viewings.measures import CannotRead, Measured, level_on
from apps.viewings.models import Clearance, Finding

# Whose renewal year counts for the age of what a checkpoint looks at.
RENEWED_IN = {
    "engine": "engine_year",
    "standing_rigging": "rigging_year",
    "sails": "sails_year",
    "boat": "build_year",
}


@dataclass(frozen=True, slots=True)
class Grader:
    """Who says it. kind: member, professional, meter or document.

    name: the professional's trade, or the scale that a meter was read on.
    """

    kind: str
    person_id: uuid.UUID | None = None
    name: str = ""

    @property
    def tight(self) -> bool:
        return self.kind != "member"


@dataclass(frozen=True, slots=True)
class Said:
    """One report and what it came from."""

    boat: int
    checkpoint: int
    grader: Grader
    level: int
    sureness: str
    finding: LiveFinding | None
    clearance: LiveClearance | None = None


@dataclass(frozen=True, slots=True, eq=False)
class ListArrays:
    """One list as the belief sees it: I boats, J checkpoints, R graders, N reports.

    said: what each report came from, (N,). not_looked: findings of those who could not look.
    doubt_level: (I, J) the worst doubt nobody cleared, -1 for none. age_assumed: (I,) boats whose
    build year nobody knows, taken for `REFERENCE_AGE` years old.
    """

    boats: tuple[Boat, ...]
    checkpoints: tuple[Checkpoint, ...]
    graders: tuple[Grader, ...]
    fleet: Fleet
    priors: CheckpointPriors
    reports: Reports
    grader_priors: GraderPriors
    said: tuple[Said, ...]
    not_looked: tuple[LiveFinding, ...]
    ruled_out: tuple[LiveFinding, ...]
    doubts: tuple[OpenDoubt, ...]
    doubt_level: Ints
    age_assumed: Bools

    @property
    def looked(self) -> Bools:
        """(I, J): whether there is any report."""
        looked = np.zeros(self.fleet.applies.shape, dtype=np.bool_)
        looked[self.reports.boat, self.reports.checkpoint] = True
        return looked

    @property
    def weights(self) -> Floats:
        """(J,) in the condition score."""
        return np.array([checkpoint.weight for checkpoint in self.checkpoints])

    @property
    def guarded(self) -> Bools:
        """(J,): structural, safety or flooding."""
        return np.array([checkpoint.guarded for checkpoint in self.checkpoints], dtype=np.bool_)

    @property
    def walk_away_level(self) -> Ints:
        """(J,), -1 where there is none."""
        return np.array(
            [-1 if c.walk_away_level is None else c.walk_away_level for c in self.checkpoints],
            dtype=np.intp,
        )


@dataclass(frozen=True)
class Places:
    """Where each boat and each checkpoint stands in the arrays."""

    boat: dict[uuid.UUID, int]
    checkpoint: dict[str, int]

    def of(self, fact: LiveFinding | LiveClearance | OpenDoubt) -> tuple[int, int] | None:
        """None for a checkpoint that has left the catalogue since."""
        checkpoint = self.checkpoint.get(fact.checkpoint)
        boat = self.boat.get(fact.candidate_id)
        return None if checkpoint is None or boat is None else (boat, checkpoint)


def list_arrays(inputs: Inputs) -> ListArrays:
    catalogue = inputs.snapshot.catalogue
    checkpoints = tuple(catalogue.checkpoints.values())
    places = Places(
        boat={boat.id: i for i, boat in enumerate(inputs.boats)},
        checkpoint={checkpoint.code: j for j, checkpoint in enumerate(checkpoints)},
    )
    said = [*_reports(inputs, places, catalogue), *_documents(inputs, places)]
    applying = np.array(
        [[applies(c, boat.built_of) for c in checkpoints] for boat in inputs.boats], dtype=np.bool_
    ).reshape(len(inputs.boats), len(checkpoints))
    ruled_out = _ruled_out(inputs, places, said)
    for finding in ruled_out:
        applying[places.of(finding)] = False
    said = [one for one in said if applying[one.boat, one.checkpoint]]
    graders = tuple(dict.fromkeys(one.grader for one in said))
    place_of_grader = {grader: r for r, grader in enumerate(graders)}
    # A doubt about what the boat, as her particulars stand now, does not have is no doubt.
    doubts = tuple(
        doubt
        for doubt in doubts_left(inputs.findings, inputs.clearances, checkpoints)
        if applying[places.of(doubt)]
    )
    return ListArrays(
        boats=inputs.boats,
        checkpoints=checkpoints,
        graders=graders,
        fleet=Fleet(part_age=part_ages(inputs.boats, checkpoints, inputs.today), applies=applying),
        priors=checkpoint_priors(checkpoints),
        reports=Reports(
            boat=np.array([one.boat for one in said], dtype=np.intp),
            checkpoint=np.array([one.checkpoint for one in said], dtype=np.intp),
            grader=np.array([place_of_grader[one.grader] for one in said], dtype=np.intp),
            level=np.array([one.level for one in said], dtype=np.intp),
            widening=np.array([WIDENING[one.sureness] for one in said], dtype=np.float64),
        ),
        grader_priors=grader_priors(graders),
        said=tuple(said),
        not_looked=tuple(f for f in inputs.findings if f.kind == Finding.Kind.COULD_NOT_LOOK),
        ruled_out=tuple(ruled_out),
        doubts=doubts,
        doubt_level=_doubt_levels(doubts, places, applying.shape),
        age_assumed=np.array(["build_year" not in boat.numbers for boat in inputs.boats]),
    )


def checkpoint_priors(checkpoints: Sequence[Checkpoint]) -> CheckpointPriors:
    return CheckpointPriors(
        mu=np.array([c.belief.mu for c in checkpoints]),
        age=np.array([c.belief.age for c in checkpoints]),
        care=np.array([c.belief.care for c in checkpoints]),
        sd=np.array([c.belief.sd for c in checkpoints]),
    )


def grader_priors(graders: Sequence[Grader]) -> GraderPriors:
    """In the graders' order; before anybody looked there is one who said nothing."""
    kinds = [surveyor_prior() if grader.tight else member_prior() for grader in graders]
    return GraderPriors.joined(kinds or [member_prior()])


def part_ages(boats: Sequence[Boat], checkpoints: Sequence[Checkpoint], today: date) -> Floats:
    """(I, J) years: since the renewal where the part has one, else the boat's age."""
    ages = np.empty((len(boats), len(checkpoints)))
    for i, boat in enumerate(boats):
        own = boat.numbers.get("build_year", today.year - REFERENCE_AGE)
        for j, checkpoint in enumerate(checkpoints):
            year = boat.numbers.get(RENEWED_IN[checkpoint.belief.ages_with], own)
            ages[i, j] = today.year - year
    return np.maximum(ages, 0.0)


def _reports(inputs: Inputs, places: Places, catalogue: Catalogue) -> list[Said]:
    repaired = _repairs(inputs)
    said = []
    for finding in inputs.findings:
        at = places.of(finding)
        if finding.level is None or at is None or _mended_since(finding, repaired):
            continue
        metered = _metered(finding, at, catalogue)
        if metered is not None:
            said.append(metered)
        if metered is None or metered.level != finding.level:
            said.append(_told(finding, at))
    return said


def _told(finding: LiveFinding, at: tuple[int, int]) -> Said:
    grader = Grader(
        kind="professional" if finding.professional else "member",
        person_id=finding.author_id,
        name=finding.profession,
    )
    return Said(*at, grader, finding.level, finding.sureness, finding=finding)


def _metered(finding: LiveFinding, at: tuple[int, int], catalogue: Catalogue) -> Said | None:
    """What the scale makes of the measured value, if there is one that can be read."""
    checkpoint = catalogue.checkpoints[finding.checkpoint]
    if finding.measured_value is None or checkpoint.measure is None:
        return None
    scale = catalogue.scales[checkpoint.measure.scale]
    try:
        level = level_on(scale, Measured(finding.measured_value, finding.measured_unit))
    except CannotRead:  # the scale changed since the finding was accepted
        return None
    return Said(*at, Grader(kind="meter", name=scale.code), level, "sure", finding=finding)


def _documents(inputs: Inputs, places: Places) -> list[Said]:
    """A clearance says in which state the thing is now."""
    grader = Grader(kind="document")
    return [
        Said(*at, grader, clearance.level, "sure", finding=None, clearance=clearance)
        for clearance in inputs.clearances
        if (at := places.of(clearance)) is not None
    ]


def _repairs(inputs: Inputs) -> dict[tuple[uuid.UUID, str], date]:
    """When each repaired thing was last repaired."""
    repairs: dict[tuple[uuid.UUID, str], date] = {}
    for clearance in inputs.clearances:
        if clearance.basis == Clearance.Basis.REPAIR:
            key = (clearance.candidate_id, clearance.checkpoint)
            repairs[key] = max(clearance.dated_on, repairs.get(key, date.min))
    return repairs


def _mended_since(finding: LiveFinding, repaired: dict[tuple[uuid.UUID, str], date]) -> bool:
    mended = repaired.get((finding.candidate_id, finding.checkpoint))
    return mended is not None and finding.seen_at.date() <= mended


def _ruled_out(inputs: Inputs, places: Places, said: Sequence[Said]) -> list[LiveFinding]:
    """'Does not apply', where nobody found the thing there to look at."""
    looked_at = {(one.boat, one.checkpoint) for one in said}
    return [
        finding
        for finding in inputs.findings
        if finding.kind == Finding.Kind.DOES_NOT_APPLY
        and (at := places.of(finding)) is not None
        and at not in looked_at
    ]


def _doubt_levels(doubts: Sequence[OpenDoubt], places: Places, shape: tuple[int, int]) -> Ints:
    levels = np.full(shape, -1, dtype=np.intp)
    for doubt in doubts:
        if (at := places.of(doubt)) is not None:
            levels[at] = max(levels[at], doubt.level)
    return levels
