"""A worse finding never has a lower expected cost.

Belief and costs are tested together. Remedies are monotone: a worse level needs more work, with a
greater chance. Raters stay at their priors, so that one report does not change the weight of
others.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.reckoning.arrays import Bools
from apps.reckoning.belief import fit
from apps.reckoning.costs import Work, moments
from apps.reckoning.grader_priors import member_prior
from apps.reckoning.priors import CheckpointPriors, Fleet, Reports
from tests.reckoning.cost_cases import FREE_BOAT, random_work

seeds = st.integers(0, 2**32 - 1)
CHECKPOINTS, GRADERS = 4, 2
TIRED, DEFECTIVE, FAILED = 2, 3, 4


class Boat:
    """One boat with its reports and possible work."""

    def __init__(self, seed: int) -> None:
        generator = np.random.default_rng(seed)
        # As in the catalogue: means of 0.5 to 1.6 at 30 years, spreads of 0.7 to 1.0, one in fifty
        # broken.
        self.priors = CheckpointPriors(
            mu=generator.uniform(0.5, 1.6, CHECKPOINTS),
            age=np.full(CHECKPOINTS, 0.2),
            care=generator.uniform(0.0, 0.9, CHECKPOINTS),
            sd=generator.uniform(0.7, 1.0, CHECKPOINTS),
            breakage=np.full(CHECKPOINTS, 0.02),
        )
        self.fleet = Fleet(
            part_age=np.full((1, CHECKPOINTS), generator.uniform(15, 40)),
            applies=np.ones((1, CHECKPOINTS), dtype=bool),
        )
        self.work = random_work(generator, CHECKPOINTS, monotone=True)
        count = int(generator.integers(0, 6))
        self.reported = [
            (int(j), int(r), int(k))
            for j, r, k in zip(
                generator.integers(0, CHECKPOINTS, count),
                generator.integers(0, GRADERS, count),
                generator.integers(0, TIRED + 1, count),
                strict=True,
            )
        ]

    def cost(self, *further: tuple[int, int, int], work: Work | None = None) -> float:
        """Expected cost after further reports: (checkpoint, grader, level) each."""
        reported = np.array([*self.reported, *further], dtype=np.intp).reshape(-1, 3)
        reports = Reports(
            boat=np.zeros(len(reported), dtype=np.intp),
            checkpoint=reported[:, 0],
            grader=reported[:, 1],
            level=reported[:, 2],
            widening=np.ones(len(reported)),
        )
        belief = fit(self.fleet, self.priors, reports, member_prior(GRADERS), calibrate=False)
        return moments(
            belief.care[0], belief.level_given_care[0], work or self.work, FREE_BOAT
        ).work_mean


def only(work: Work, links: Bools) -> Work:
    """The work of some of the links."""
    return Work(
        work.remedies,
        work.enabling,
        work.needs,
        work.now,
        work.link_checkpoint[links],
        work.link_remedy[links],
        work.link_probability[links],
        work.link_extent[links],
    )


def as_bad_at_defective_as_at_failed(work: Work) -> Work:
    """The same work, where defective needs everything that failed needs."""
    chance, extent = work.link_probability.copy(), work.link_extent.copy()
    chance[:, DEFECTIVE], extent[:, DEFECTIVE] = chance[:, FAILED], extent[:, FAILED]
    return Work(
        work.remedies,
        work.enabling,
        work.needs,
        work.now,
        work.link_checkpoint,
        work.link_remedy,
        chance,
        extent,
    )


@given(seeds, st.integers(0, CHECKPOINTS - 1), st.integers(0, GRADERS - 1))
@settings(max_examples=40, deadline=None)
def test_a_further_defective_finding_never_lowers_the_expected_cost(seed, checkpoint, grader):
    """Where nobody found worse than tired. It may rule out failed, so it must not cost more."""
    boat = Boat(seed)
    work = as_bad_at_defective_as_at_failed(boat.work)
    after = boat.cost((checkpoint, grader, DEFECTIVE), work=work)
    assert after >= boat.cost(work=work) - 1e-6


@given(seeds, st.integers(0, CHECKPOINTS - 1), st.integers(0, GRADERS - 1))
@settings(max_examples=40, deadline=None)
def test_a_further_failed_finding_never_lowers_the_expected_cost(seed, checkpoint, grader):
    boat = Boat(seed)
    assert boat.cost((checkpoint, grader, FAILED)) >= boat.cost() - 1e-6


@given(seeds, st.integers(0, CHECKPOINTS - 1), st.integers(0, GRADERS - 1))
@settings(max_examples=40, deadline=None)
def test_the_same_look_with_a_worse_finding_is_never_cheaper(seed, checkpoint, grader):
    """In what is to be done there, where nobody else looked at the same.

    What others contradict may be a slip, and the more so the further it is from what they saw. And
    what failed may have broken, which says less of the rest of the boat than wear does. By a
    thousandth of what it would cost failed, a slip may turn sound and serviceable round; by a
    hundredth, breaking may turn defective and failed round.
    """
    boat = Boat(seed)
    boat.reported = [said for said in boat.reported if said[0] != checkpoint]
    there = only(boat.work, boat.work.link_checkpoint == checkpoint)
    cost = [boat.cost((checkpoint, grader, level), work=there) for level in range(5)]
    slack = np.array([1e-3, 1e-3, 1e-3, 1e-2])
    assert np.all(np.diff(cost) >= -slack * cost[FAILED] - 1e-6)


def test_a_bad_finding_makes_what_nobody_saw_dearer_too():
    """The care class: another checkpoint's expected cost rises with a failed one."""
    boat = Boat(3)
    others = boat.work.link_checkpoint != 0
    elsewhere = only(boat.work, others)
    before, after = boat.cost(work=elsewhere), boat.cost((0, 0, FAILED), work=elsewhere)
    assert after > before + 1
    assert before == pytest.approx(boat.cost(work=elsewhere))
