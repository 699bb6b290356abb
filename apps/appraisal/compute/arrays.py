"""From findings to the arrays that the belief is fitted to.

A grader is a person in one capacity: a member who also enters a surveyor's report is two graders.
A meter read on a published scale is a tight grader; the person who read it counts beside it only
if they report a different level than the scale gives. Recorded taps are a loose grader. A document
that clears a doubt is a grader too, and so is each boat's seller: an answer moves the belief, but
is no look. Findings from before a documented repair no longer count as
evidence.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from apps.appraisal.compute.inputs import BoatInputs, EvidenceInputs
from apps.appraisal.compute.statements import (
    SELLER,
    SOUND,
    Grader,
    Places,
    Statement,
    judgements,
    outranked,
    statements_of,
)
from apps.appraisal.pooling.pooled import Pooled
from apps.catalogue.ages import PartAge, ages_of, levels_by_year, part_ages
from apps.catalogue.applicability import applies
from apps.catalogue.content import CheckpointEntry
from apps.catalogue.snapshot import Catalogue
from apps.catalogue.vocabulary import SAYS_OF_CARE
from apps.outcomes.feeding import ClubExperience
from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.grader_priors import (
    WIDENING,
    GraderPriors,
    member_prior,
    seller_prior,
    sound_prior,
    surveyor_prior,
)
from apps.reckoning.judged import SetApart, set_apart
from apps.reckoning.priors import CARE_CLASSES, CARE_PRIOR, CheckpointPriors, Fleet, Reports
from apps.viewings.doubts import OpenDoubt, counts, doubts_left
from apps.viewings.facts import LiveFinding
from apps.viewings.models import Finding


@dataclass(frozen=True, slots=True, eq=False)
class ListArrays:
    """One list, or several, as input of the belief: I boats, J checkpoints, R graders, N reports.

    ages: of the parts of each boat, (I,). statements: one behind each report, (N,).
    not_looked: findings of people who could not look. doubt_level: (I, J) the worst doubt that
    nobody cleared, -1 for none; doubt_seen_by: (I, J) by how many people (`OpenDoubt`).
    care_prior: (3,).
    """

    boats: tuple[BoatInputs, ...]
    ages: tuple[tuple[PartAge, ...], ...]
    checkpoints: tuple[CheckpointEntry, ...]
    graders: tuple[Grader, ...]
    fleet: Fleet
    priors: CheckpointPriors
    reports: Reports
    grader_priors: GraderPriors
    care_prior: Floats
    statements: tuple[Statement, ...]
    not_looked: tuple[LiveFinding, ...]
    ruled_out: tuple[LiveFinding, ...]
    doubts: tuple[OpenDoubt, ...]
    doubt_level: Ints
    doubt_seen_by: Ints

    def ages_on(self, i: int) -> list[PartAge]:
        """The ages of the parts that a boat has."""
        has = {
            checkpoint.belief.ages_with
            for j, checkpoint in enumerate(self.checkpoints)
            if self.fleet.applies[i, j]
        }
        return [age for age in self.ages[i] if age.part in has]

    @property
    def looks(self) -> Bools:
        """(N,): the reports of a look, a reading or a document; not what a seller said."""
        return np.array([one.grader.looks for one in self.statements], dtype=np.bool_)

    @property
    def looked(self) -> Bools:
        """(I, J): whether anybody looked."""
        looked = np.zeros(self.fleet.applies.shape, dtype=np.bool_)
        looked[self.reports.boat[self.looks], self.reports.checkpoint[self.looks]] = True
        return looked

    @property
    def apart(self) -> SetApart:
        """The input of a fit: where a professional has judged, members' looks only say how they
        see.
        """
        judged = judgements(self.statements, self.checkpoints)
        level = np.zeros(self.fleet.applies.shape)
        for (i, j), one in judged.items():
            level[i, j] = one.level
        apart = [outranked(one, judged.get((one.boat, one.checkpoint))) for one in self.statements]
        moved = np.array(apart, dtype=np.bool_)
        return set_apart(self.fleet, self.priors, self.reports, moved, level)

    @property
    def reported(self) -> Bools:
        """(I, J): whether there is any report, a seller's answer included."""
        reported = np.zeros(self.fleet.applies.shape, dtype=np.bool_)
        reported[self.reports.boat, self.reports.checkpoint] = True
        return reported

    @property
    def weights(self) -> Floats:
        """(J,): weights in the condition score."""
        return np.array([checkpoint.weight for checkpoint in self.checkpoints])

    @property
    def guarded(self) -> Bools:
        """(J,): structural, safety or flooding."""
        return np.array([checkpoint.guarded for checkpoint in self.checkpoints], dtype=np.bool_)

    @property
    def receipt_clears(self) -> Bools:
        """(J,): small items whose doubt a receipt closes."""
        return np.array([c.receipt_clears for c in self.checkpoints], dtype=np.bool_)

    @property
    def walk_away_level(self) -> Ints:
        """(J,): the level to walk away from, -1 for none."""
        return np.array(
            [-1 if c.walk_away_level is None else c.walk_away_level for c in self.checkpoints],
            dtype=np.intp,
        )


def list_arrays(evidence: EvidenceInputs, pooled: Pooled | None = None) -> ListArrays:
    """pooled: priors from the club, used beside the catalogue's."""
    catalogue = evidence.snapshot.catalogue
    evidence = _with_what_counts(evidence)
    checkpoints = tuple(catalogue.checkpoints.values())
    places = Places(
        boat={boat.id: i for i, boat in enumerate(evidence.boats)},
        checkpoint={checkpoint.code: j for j, checkpoint in enumerate(checkpoints)},
    )
    statements = statements_of(evidence, places, catalogue)
    applying = np.array(
        [[applies(c, boat.built_of) for c in checkpoints] for boat in evidence.boats],
        dtype=np.bool_,
    ).reshape(len(evidence.boats), len(checkpoints))
    ruled_out = _ruled_out(evidence, places, statements)
    for finding in ruled_out:
        applying[places.of(finding)] = False
    statements = [one for one in statements if applying[one.boat, one.checkpoint]]
    graders = tuple(dict.fromkeys(one.grader for one in statements))
    place_of_grader = {grader: r for r, grader in enumerate(graders)}
    # A doubt about a part that the boat, by her current particulars, does not have is no doubt.
    doubts = tuple(
        doubt
        for doubt in doubts_left(evidence.findings, evidence.clearances, checkpoints)
        if applying[places.of(doubt)]
    )
    ages = tuple(ages_of(boat, evidence.today) for boat in evidence.boats)
    return ListArrays(
        boats=evidence.boats,
        ages=ages,
        checkpoints=checkpoints,
        graders=graders,
        fleet=Fleet(
            part_age=part_ages(ages, checkpoints),
            applies=applying,
            shift=level_shifts(evidence, ages, checkpoints),
            at_least=_at_least(ages, checkpoints, catalogue, statements),
            care_likelihood=_care_likelihood(evidence.findings, places, len(evidence.boats)),
        ),
        priors=checkpoint_priors(checkpoints, pooled, evidence.experience),
        reports=Reports(
            boat=np.array([one.boat for one in statements], dtype=np.intp),
            checkpoint=np.array([one.checkpoint for one in statements], dtype=np.intp),
            grader=np.array([place_of_grader[one.grader] for one in statements], dtype=np.intp),
            level=np.array([one.level for one in statements], dtype=np.intp),
            widening=np.array([WIDENING[one.sureness] for one in statements], dtype=np.float64),
        ),
        grader_priors=grader_priors(graders, pooled),
        care_prior=np.array(pooled.care_prior if pooled else CARE_PRIOR),
        statements=tuple(statements),
        not_looked=tuple(f for f in evidence.findings if f.kind == Finding.Kind.COULD_NOT_LOOK),
        ruled_out=tuple(ruled_out),
        doubts=doubts,
        doubt_level=_of_doubts(doubts, places, applying.shape, lambda one: one.level, none=-1),
        doubt_seen_by=_of_doubts(doubts, places, applying.shape, lambda one: one.seen_by, none=0),
    )


def _with_what_counts(evidence: EvidenceInputs) -> EvidenceInputs:
    """The evidence without receipts at checkpoints that no receipt can settle."""
    checkpoints = evidence.snapshot.catalogue.checkpoints
    kept = tuple(
        clearance
        for clearance in evidence.clearances
        if clearance.checkpoint not in checkpoints
        or counts(clearance, checkpoints[clearance.checkpoint])
    )
    return replace(evidence, clearances=kept)


def _at_least(
    ages: Sequence[tuple[PartAge, ...]],
    checkpoints: Sequence[CheckpointEntry],
    catalogue: Catalogue,
    statements: Sequence[Statement],
) -> Ints:
    """(I, J): levels by the known years of parts, 0 where a meter or a document gives a level.

    A reading and documented work are better evidence than a year that somebody entered.
    """
    levels = levels_by_year(ages, checkpoints, catalogue.scales)
    for one in statements:
        if one.grader.kind in ("meter", "document"):
            levels[one.boat, one.checkpoint] = 0
    return levels


def _care_likelihood(findings: Sequence[LiveFinding], places: Places, boats: int) -> Floats | None:
    """(I, 3): likelihood of each care class, given the reasons why people could not look.

    Each reason counts once for a boat: one refusal covers a whole visit.
    """
    given = {
        (places.boat[finding.candidate_id], finding.reason)
        for finding in findings
        if finding.kind == Finding.Kind.COULD_NOT_LOOK
        and finding.reason in SAYS_OF_CARE
        and finding.candidate_id in places.boat
    }
    if not given:
        return None
    likelihood = np.ones((boats, len(CARE_CLASSES)))
    for boat, reason in sorted(given):
        likelihood[boat] *= SAYS_OF_CARE[reason]
    return likelihood


def checkpoint_priors(
    checkpoints: Sequence[CheckpointEntry],
    pooled: Pooled | None = None,
    experience: ClubExperience | None = None,
) -> CheckpointPriors:
    """One source counts for each checkpoint: surveys if there are any, else the pooled findings.

    The pooled findings contain the surveys' findings already. Surveys move the catalogue's mean
    boat by boat (`level_shifts`).
    """
    surveyed = experience.shifts if experience else {}
    moved = {code: mu for code, mu in pooled.mu.items() if code not in surveyed} if pooled else {}
    return CheckpointPriors(
        mu=np.array([moved.get(c.code, c.belief.mu) for c in checkpoints]),
        age=np.array([c.belief.age for c in checkpoints]),
        care=np.array([c.belief.care for c in checkpoints]),
        sd=np.array([c.belief.sd for c in checkpoints]),
        breakage=np.array([c.belief.breakage for c in checkpoints]),
    )


def level_shifts(
    evidence: EvidenceInputs,
    ages: Sequence[Sequence[PartAge]],
    checkpoints: Sequence[CheckpointEntry],
) -> Floats | None:
    """(I, J): how much worse than the catalogue says surveys found boats built and aged like these.

    None if surveys give no information.
    """
    shifts = evidence.experience.shifts if evidence.experience else {}
    if not shifts:
        return None
    shift = np.zeros((len(evidence.boats), len(checkpoints)))
    for i, (boat, parts) in enumerate(zip(evidence.boats, ages, strict=True)):
        age = next((p.years for p in parts if p.part == "boat" and p.known), None)
        for j, checkpoint in enumerate(checkpoints):
            if known := shifts.get(checkpoint.code):
                shift[i, j] = known.of(boat.built_of, age)
    return shift


def grader_priors(graders: Sequence[Grader], pooled: Pooled | None = None) -> GraderPriors:
    """In the graders' order; without graders, the prior of one member who reported nothing."""
    kinds = [_grader_prior(grader, pooled) for grader in graders]
    return GraderPriors.joined(kinds or [member_prior()])


def _grader_prior(grader: Grader, pooled: Pooled | None) -> GraderPriors:
    if grader.tight:
        return surveyor_prior()
    if grader.kind == SOUND:
        return sound_prior()
    if grader.kind == SELLER:
        return seller_prior(known=pooled.sellers if pooled else None)
    person = pooled.graders.get(grader.person_id) if pooled and grader.person_id else None
    return person.prior() if person else member_prior()


def _ruled_out(
    evidence: EvidenceInputs, places: Places, statements: Sequence[Statement]
) -> list[LiveFinding]:
    """Findings 'does not apply' at checkpoints of a boat where nobody found anything to look at."""
    looked_at = {(one.boat, one.checkpoint) for one in statements if one.grader.looks}
    return [
        finding
        for finding in evidence.findings
        if finding.kind == Finding.Kind.DOES_NOT_APPLY
        and (at := places.of(finding)) is not None
        and at not in looked_at
    ]


def _of_doubts(
    doubts: Sequence[OpenDoubt],
    places: Places,
    shape: tuple[int, int],
    read: Callable[[OpenDoubt], int],
    *,
    none: int,
) -> Ints:
    """(I, J): the value `read` from each doubt; a checkpoint of a boat has at most one."""
    statements = np.full(shape, none, dtype=np.intp)
    for doubt in doubts:
        if (at := places.of(doubt)) is not None:
            statements[at] = read(doubt)
    return statements
