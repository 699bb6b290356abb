"""A club's own data as priors for its lists: care classes, checkpoints and known graders.

Partial pooling: the catalogue's figures count as `strength` observations, so that ten findings of
the club move them little and a thousand move them much (the conjugate weighing of Gelman et al.,
Bayesian Data Analysis, 3rd ed., ch. 2 and 5). Each figure, overall and by checkpoint, comes from at
least three groups, so that nobody can infer a single boat from it.

A shift common to all checkpoints can be explained by mu, by the care classes or by the graders'
leans; only their priors distinguish these.

Pooling runs apart from a list's own fit, and less often (model.md 1). Give a list the pool without
its own group (`without`); otherwise its reports count twice.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import scipy  # its parts are loaded on first use

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.belief import FitRound, FleetReports
from apps.reckoning.convergence import ascend
from apps.reckoning.estimates import FLOOR, within
from apps.reckoning.grader_priors import GraderPriors
from apps.reckoning.graders import GraderPosterior, GraderStep
from apps.reckoning.levels import mean_before_rounding, worn_share
from apps.reckoning.priors import (
    CARE_PRIOR,
    CheckpointPriors,
    Fleet,
    Reports,
    check,
    check_inside,
    checked_care_prior,
    expected_levels,
    spread_about,
)

FEWEST_GROUPS: Final = 3
# How many observations the catalogue's figures count as: boats looked at for a checkpoint's mu,
# boats for the care classes. Own choice, no source: ten observations weigh 17%, a thousand 95%.
STRENGTH: Final = 50.0


class TooFewGroups(ValueError):
    """The data come from fewer than three groups."""


@dataclass(frozen=True, slots=True, eq=False)
class Pool:
    """The result of a club's data, as input of a list's fit.

    care_prior: (3,). priors: the checkpoints with mu moved. graders: posterior of each grader;
    grader_priors: the same as priors for another list; those who reported nothing keep the given
    ones. boats: how many had a report. looked_at: (J,), number of boats on which each checkpoint
    was looked at. moved: (J,), checkpoints with data from enough groups; the others keep the
    catalogue's mu. bound: (rounds,), nats, never decreasing.
    """

    care_prior: Floats
    priors: CheckpointPriors
    graders: GraderPosterior
    grader_priors: GraderPriors
    boats: int
    looked_at: Ints
    moved: Bools
    rounds: int
    converged: bool
    bound: Floats

    def spread_out(self, priors: CheckpointPriors, checkpoints: Ints) -> "Pool":
        """The pool of some checkpoints as one of all, whose priors are given."""
        mu = priors.mu.copy()
        looked_at = np.zeros(len(mu), dtype=self.looked_at.dtype)
        moved = np.zeros(len(mu), dtype=np.bool_)
        mu[checkpoints] = self.priors.mu
        looked_at[checkpoints] = self.looked_at
        moved[checkpoints] = self.moved
        return replace(self, priors=replace(priors, mu=mu), looked_at=looked_at, moved=moved)


def pool(
    fleet: Fleet,
    priors: CheckpointPriors,
    reports: Reports,
    grader_priors: GraderPriors,
    group: Ints,
    *,
    without: int | None = None,
    held: Bools | None = None,
    care_prior: tuple[float, ...] | Floats = CARE_PRIOR,
    strength: float = STRENGTH,
    tolerance: float = 1e-5,
    max_rounds: int = 500,
) -> Pool:
    """Fit a club's reports once, with the care-class prior and the checkpoints' mu free to move.

    group: (I,), the group whose list each boat is on. without: a group whose boats are left out,
    because it will get the result. held: (J,), columns whose mu stays as it is; none by default.
    The coordinate ascent of `belief.fit` with two more steps; both raise the evidence bound, which
    now includes the log prior of mu and the care classes.

    Raises TooFewGroups when fewer than three groups (beside `without`) have a report, and
    ValueError as `belief.fit` does.
    """
    if not strength > 0:
        raise ValueError("strength: must be positive")
    reports = _reports_to_pool(fleet, reports, group, without)
    check_inside(fleet, reports, len(grader_priors))
    held = np.zeros(len(priors.mu), dtype=np.bool_) if held is None else held
    check(held.shape == priors.mu.shape, "held", "one value a checkpoint")
    check(fleet.applies.shape[1] == len(priors.mu), "mu", "one for each checkpoint of the fleet")
    boats, checkpoints = np.unique(reports.boat), np.unique(reports.checkpoint)
    found = _pool_of_seen(
        # Reasons why people could not look stay with each list: here they would reveal a group's
        # own boats.
        replace(fleet, care_likelihood=None).only(boats, checkpoints),
        priors.only(checkpoints),
        reports.counted_among(boats, checkpoints),
        grader_priors,
        group[boats],
        held[checkpoints],
        checked_care_prior(care_prior),
        strength,
        tolerance,
        max_rounds,
    )
    return found.spread_out(priors, checkpoints)


def _pool_of_seen(
    fleet: Fleet,
    priors: CheckpointPriors,
    reports: Reports,
    grader_priors: GraderPriors,
    group: Ints,
    held: Bools,
    care_prior: Floats,
    strength: float,
    tolerance: float,
    max_rounds: int,
) -> Pool:
    """The pool of boats and checkpoints of which each has a report.

    The others would have no effect on it: without a report a cell's evidence is 1 at each level.
    """
    looks = FleetReports(fleet, reports, grader_priors)
    base = _Base(fleet, priors, care_prior, strength, reports, group, held)

    def pooling(mu: Floats, shares: Floats, graders: GraderStep) -> "_Pooling":
        prior = looks.prior(fleet, replace(priors, mu=mu), base.seen)
        round_ = looks.round(prior, shares, graders)
        return _Pooling(mu, shares, prior, round_, round_.bound + base.log_prior(mu, shares))

    def improve(last: "_Pooling") -> "_Pooling":
        graders = looks.model.update(last.round.counts)
        return pooling(base.mu(last, looks), base.care(last.round, looks), graders)

    first = pooling(priors.mu, base.care_prior, looks.model.start())
    ascent = ascend(first, improve, tolerance=tolerance, max_rounds=max_rounds)
    last = ascent.state
    graders = looks.model.posterior(last.round.graders, looks.inferred(last.prior, last.round))
    return Pool(
        care_prior=last.care_prior,
        priors=replace(priors, mu=last.mu),
        graders=graders,
        grader_priors=_known(graders, grader_priors, reports),
        boats=len(fleet.applies),
        looked_at=base.seen.sum(axis=0),
        moved=base.moves,
        rounds=ascent.rounds,
        converged=ascent.converged,
        bound=ascent.bound,
    )


def _reports_to_pool(fleet: Fleet, reports: Reports, group: Ints, without: int | None) -> Reports:
    """Those of the other groups. Raises TooFewGroups, ValueError."""
    if group.shape != (len(fleet.applies),):
        raise ValueError("group: need one for each boat")
    if without is not None:
        reports = reports.where(group[reports.boat] != without)
    groups = len(np.unique(group[reports.boat]))
    if groups < FEWEST_GROUPS:
        raise TooFewGroups(f"group: {groups} with reports, {FEWEST_GROUPS} needed to pool")
    return reports


def shrunk_shares(counts: Floats, prior: Floats, strength: float) -> Floats:
    """Shares of classes after `counts` observations, the prior counting as `strength` of them.

    The posterior mean under a Dirichlet(strength * prior). counts, prior: (C,).
    """
    return np.asarray((counts + strength * prior) / (counts.sum() + strength))


def shrunk_mean(total: Floats, count: Floats, prior: Floats, strength: float) -> Floats:
    """Means after `count` observations summing to `total`, the prior counting as `strength`."""
    return np.asarray((total + strength * prior) / (count + strength))


@dataclass(frozen=True, slots=True, eq=False)
class _Pooling:
    """One round. mu: (J,). care_prior: (3,). prior: (3, 5, S) for each batch, given both."""

    mu: Floats
    care_prior: Floats
    prior: tuple[Floats, ...]
    round: FitRound
    bound: float

    def settled(self, previous: "_Pooling", tolerance: float, /) -> bool:
        return (
            within(self.mu - previous.mu, tolerance)
            and within(self.care_prior - previous.care_prior, tolerance)
            and self.round.settled(previous.round, tolerance)
        )


class _Base:
    """The catalogue's figures and how the club's data move them.

    seen: (I, J), cells that anybody looked at. moves: (J,), seen by enough groups, and not held.
    """

    def __init__(
        self,
        fleet: Fleet,
        priors: CheckpointPriors,
        care_prior: Floats,
        strength: float,
        reports: Reports,
        group: Ints,
        held: Bools,
    ) -> None:
        self.care_prior = care_prior
        self._priors = priors
        self._strength = strength
        self._fleet = fleet
        self._offset = expected_levels(fleet, priors) - priors.mu  # (I, 3, J), age and care
        # A level that the part's year decides gives no information about the catalogue's mean.
        self._by_year = (
            np.zeros_like(fleet.applies) if fleet.at_least is None else fleet.at_least > 0
        )
        self.seen = np.zeros(fleet.applies.shape, dtype=bool)
        self.seen[reports.boat, reports.checkpoint] = True
        names, of_boat = np.unique(group, return_inverse=True)
        by_group = np.zeros((len(names), len(priors.mu)), dtype=bool)
        by_group[of_boat[reports.boat], reports.checkpoint] = True
        self.moves = (by_group.sum(axis=0) >= FEWEST_GROUPS) & ~held

    def care(self, last: FitRound, looks: FleetReports) -> Floats:
        """(3,), the best care-class prior for the boats that anybody looked at."""
        counts = np.zeros(len(self.care_prior))
        for batch, estimate in zip(looks.batches, last.estimates, strict=True):
            counts += estimate.care @ self.seen[batch.boats].any(axis=1)
        return shrunk_shares(counts, self.care_prior, self._strength)

    def mu(self, last: "_Pooling", looks: FleetReports) -> Floats:
        """(J,), the best means for the believed levels.

        The level of a part that did not break is a rounded normal variable (`levels.level_prior`);
        its mean before rounding, minus the effects of age and care, is averaged over boats and care
        classes, weighted by the chance of wear: a broken part gives no information about mu.
        """
        total, count = np.zeros(len(last.mu)), np.zeros(len(last.mu))
        for batch, prior, estimate in zip(
            looks.batches, last.prior, last.round.estimates, strict=True
        ):
            # The cells that count: looked at, and of checkpoints that move.
            counts = self.seen[batch.boats] & self.moves & ~self._by_year[batch.boats]
            boat, checkpoint = np.nonzero(counts)
            offset = self._offset[batch.boats][boat, :, checkpoint]
            mean = last.mu[checkpoint, None] + offset
            sd, broken = spread_about(self._fleet.part(batch.boats), self._priors, boat, checkpoint)
            level = batch.level_given_care(prior, last.round.graders.table)
            level = level.reshape(*level.shape[:2], *counts.shape)[..., boat, checkpoint]
            worn = np.einsum(
                "cn,cln,ncl->ncl",
                estimate.care[:, boat],
                level,
                worn_share(mean, sd, broken),
            )
            residual = mean_before_rounding(mean, sd) - offset[..., None]
            total += np.bincount(checkpoint, (worn * residual).sum(axis=(1, 2)), len(total))
            count += np.bincount(checkpoint, worn.sum(axis=(1, 2)), len(count))
        mu = shrunk_mean(total, count, self._priors.mu, self._strength)
        return np.where(self.moves, mu, self._priors.mu)

    def log_prior(self, mu: Floats, care_prior: Floats) -> float:
        """Log prior density of what moves, up to a constant, in nats."""
        z = (mu - self._priors.mu) / self._priors.sd
        kept = scipy.special.rel_entr(self.care_prior, np.maximum(care_prior, FLOOR)).sum()
        return -self._strength * float(0.5 * (z @ z) + kept)


def _known(graders: GraderPosterior, given: GraderPriors, reports: Reports) -> GraderPriors:
    """The posterior of those who reported; for the others, the given prior."""
    reported = np.bincount(reports.grader, minlength=len(given)) > 0
    learned = graders.as_priors()
    return GraderPriors(
        *(
            np.where(reported, getattr(learned, name), getattr(given, name))
            for name in GraderPriors.__slots__
        )
    )
