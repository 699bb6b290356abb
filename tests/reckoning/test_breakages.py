"""A found breakage is believed, because of breakages in the prior and mistakes of raters.

Measured before these were in the model: on a boat of 32 years one member's sure "failed" left
P(failed) at .13, two members' at .45 and a surveyor's at .22, and no walk-away checkpoint reached
one half.
"""

from dataclasses import replace

import numpy as np
import pytest

from apps.catalogue.ages import effective_age
from apps.reckoning.advice import AdviceInputs, strike_off_advice, to_be_judged
from apps.reckoning.arrays import Floats
from apps.reckoning.belief import fit
from apps.reckoning.grader_priors import GraderPriors, member_prior, surveyor_prior
from apps.reckoning.levels import level_prior
from apps.reckoning.priors import CheckpointPriors, Fleet, Reports, broken_by
from tests.catalogue.real import REAL as CATALOGUE
from tests.reckoning.simulated import simulate

WALK_AWAY = [c for c in CATALOGUE.checkpoints.values() if c.walk_away_level is not None]
OFTEN_BROKEN = np.array([checkpoint.belief.breakage >= 0.02 for checkpoint in WALK_AWAY])
FAILED = 4


def believed(said: list[int], graders: GraderPriors) -> Floats:
    """(J, 5): levels of each walk-away checkpoint, looked at on a boat of its own of 32 years."""
    beliefs = [checkpoint.belief for checkpoint in WALK_AWAY]
    levels = []
    for belief in beliefs:
        names = ("mu", "age", "care", "sd", "breakage")
        looks = np.arange(len(said))
        levels.append(
            fit(
                Fleet(np.full((1, 1), effective_age(32.0)), np.ones((1, 1), dtype=bool)),
                CheckpointPriors(*(np.array([getattr(belief, name)]) for name in names)),
                Reports(
                    0 * looks, 0 * looks, looks, np.array(said, dtype=np.intp), np.ones(len(said))
                ),
                graders,
            ).level[0, 0]
        )
    return np.array(levels)


def walk_away(level: Floats) -> Floats:
    """(J,) chance of the level from which one should walk away."""
    return np.array(
        [row[c.walk_away_level :].sum() for row, c in zip(level, WALK_AWAY, strict=True)]
    )


def test_two_members_or_a_surveyor_make_a_reason_to_walk_away():
    """A deck of that age is often defective (3): that two say 4 of it is a little more doubtful."""
    assert len(WALK_AWAY) >= 8
    by_code = dict(
        zip(
            (c.code for c in WALK_AWAY),
            walk_away(believed([FAILED, FAILED], member_prior(2))),
            strict=True,
        )
    )
    assert by_code.pop("deck-tapping") >= 0.45
    assert min(by_code.values()) >= 0.5
    assert walk_away(believed([FAILED], surveyor_prior())).min() >= 0.5


def test_one_member_alone_makes_it_credible_and_no_more():
    """Less so where few break and many are defective: a deck at 3 is easily reported as 4."""
    level = believed([FAILED], member_prior())
    assert level[OFTEN_BROKEN, FAILED].min() >= 0.2
    assert level[:, FAILED].min() >= 0.15
    assert level[:, FAILED].max() < 0.65
    assert believed([], member_prior())[:, FAILED].max() < 0.06


def found_on(level: Floats, people: int) -> AdviceInputs:
    """A boat for each walk-away checkpoint, on which so many members saw just that as failed."""
    count = len(WALK_AWAY)
    here = np.eye(count, dtype=bool)
    unseen = np.zeros((count, count, 5))
    unseen[..., 0] = 1.0
    return AdviceInputs(
        expected_utility=np.full((1, count), np.nan),
        chance_better=np.full((count, count), np.nan),
        chance_costs_more=np.full(count, np.nan),
        chance_best=np.full(count, np.nan),
        chance_within_budget=np.ones(count),
        required_confidence=0.8,
        musts=(),
        level=np.where(here[..., None], level, unseen),
        looked=here,
        walk_away_level=np.array([c.walk_away_level for c in WALK_AWAY]),
        doubt_level=np.where(here, FAILED, -1),
        doubt_seen_by=np.where(here, people, 0),
        grave=np.ones(count, dtype=bool),
    )


def test_one_members_failed_is_a_reason_only_where_it_is_believed_by_a_third():
    level = believed([FAILED], member_prior())
    found, reached = found_on(level, 1), walk_away(level)
    reasons, judged = strike_off_advice(found), to_be_judged(found)
    assert [len(one) for one in reasons] == (reached >= 1 / 3).astype(int).tolist()
    assert [len(one) for one in judged] == (reached < 1 / 3).astype(int).tolist()
    assert any(reasons)
    assert any(judged)


def test_two_members_who_saw_it_on_their_own_are_a_reason_whatever_is_believed():
    disbelieved = np.tile([0.9, 0.1, 0.0, 0.0, 0.0], (len(WALK_AWAY), 1))
    assert all(len(one) == 1 for one in strike_off_advice(found_on(disbelieved, 2)))


def test_one_slip_does_not_hide_what_two_others_saw():
    """Still in trouble, if less surely failed; as likely as not where few break."""
    level = believed([FAILED, FAILED, 0], member_prior(3))
    in_trouble = level[:, 3:].sum(axis=1)
    assert in_trouble[OFTEN_BROKEN].min() >= 0.6
    assert in_trouble.min() >= 0.35
    assert level[:, FAILED].min() >= 0.2


def test_one_slip_does_not_condemn_what_two_others_saw_sound():
    assert walk_away(believed([0, 0, FAILED], member_prior(3))).max() < 0.05


@pytest.fixture(scope="module")
def trial():
    """Lists of 8 boats, one thing in fifty broken at 30 years, and three people who look."""
    cases = []
    for seed in range(25):
        draw = np.random.default_rng([98, seed])
        limits = [(0.5, 1.6), (0.1, 0.4), (0.3, 0.9), (0.7, 0.9), (0.02, 0.02)]
        priors = CheckpointPriors(*(draw.uniform(low, high, 60) for low, high in limits))
        cases.append(simulate(draw, boats=8, checkpoints=60, graders=3, priors=priors))
    return cases


def outcome(trial, breakage: float) -> tuple[float, float]:
    """Log loss where anybody looked, and the share of failed things seen that are believed so."""
    loss, found = [], []
    for case in trial:
        priors = replace(case.priors, breakage=np.full_like(case.priors.mu, breakage))
        level = fit(case.fleet, priors, case.reports, member_prior(3)).level
        seen = np.zeros(case.level.shape, dtype=bool)
        seen[case.reports.boat, case.reports.checkpoint] = True
        truth = np.take_along_axis(level, case.level[..., None], axis=-1)[..., 0]
        loss.append(-np.log(truth[seen]))
        found.append(level[seen & (case.level == FAILED), FAILED] >= 0.5)
    return float(np.concatenate(loss).mean()), float(np.concatenate(found).mean())


def test_a_world_with_breakages_is_foretold_better_by_a_prior_with_them(trial):
    with_them, without = outcome(trial, 0.02), outcome(trial, 0.0)
    assert with_them[0] < without[0] - 0.01
    assert with_them[1] > 2 * without[1]


def test_what_is_new_is_not_broken_and_every_year_adds_the_same_chance():
    share = broken_by(np.array([0.0, 15.0, 30.0, 60.0]), 0.02)
    np.testing.assert_allclose(share, [0.0, 1 - 0.98**0.5, 0.02, 1 - 0.98**2])


def test_the_prior_adds_up_to_the_share_that_breaks():
    """For checkpoints without wear, the share at 3 and 4 is the share that breaks."""
    assert level_prior(-5.0, 0.6, 0.02)[3:].sum() == pytest.approx(0.02)
