"""Plans of work and bills so far against textbook results.

W. E. Smith, "Various optimizers for single-stage production", Naval Research Logistics Quarterly
3 (1956), 59-66: on one machine, the sum of weighted completion times is least in order of time over
weight. R. McNaughton, Management Science 6 (1959), 1-12: interrupting jobs does not make it less.
A. Gelman et al., "Bayesian Data Analysis", 3rd ed. (2013), eq. 2.12: the posterior mean of a normal
mean with known variance is the mean of prior and data, weighted by precision. All from memory.
"""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.ownership.solver.problem import Season, WorkJob, merit
from apps.ownership.solver.scheduling import plan_of
from apps.reckoning.outcomes import BILL_SD, remaining_factor
from apps.reckoning.work import YARD_RATE_SD

JOBS = st.lists(st.tuples(st.integers(1, 4), st.booleans()), min_size=1, max_size=5)


@given(JOBS)
@settings(max_examples=30)
def test_with_an_hour_a_month_it_is_one_machine(jobs):
    """Months are the machine's time, and urgent jobs weigh twice: Smith's rule gives the least."""
    season = Season(
        (1,) * sum(hours for hours, _ in jobs),
        tuple(
            WorkJob(f"job-{n}", 0, hours=hours, urgent=urgent)
            for n, (hours, urgent) in enumerate(jobs)
        ),
    )
    time, least = 0, 0
    weighted = [(hours, 2 if urgent else 1) for hours, urgent in jobs]
    for hours, weight in sorted(weighted, key=lambda one: one[0] / one[1]):
        time += hours
        least += weight * (time - 1)  # months count from 0
    assert merit(season, plan_of(season)) == (0, 0, 0, 0, least, 0)


@pytest.mark.parametrize("ratios", [[2.0], [1.2, 0.9, 1.5], [1.1] * 40])
def test_bills_and_prior_are_weighted_by_their_precisions(ratios):
    logs = np.log(ratios)
    prior, data = 1 / YARD_RATE_SD**2, len(logs) / BILL_SD**2
    mean = (prior * 0.0 + data * logs.mean()) / (prior + data)
    assert remaining_factor(list(logs)) == pytest.approx(math.exp(mean))


def test_without_bills_nothing_moves():
    assert remaining_factor([]) == 1.0
