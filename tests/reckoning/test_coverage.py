"""An 80% interval holds the truth in about 80% of cases: `bench_coverage`, smaller."""

import pytest

from tests.bench.fleet import invented_case
from tests.reckoning.coverage import KINDS, Case, held

ASKED = ("levels", "condition", "all-in", "leans")


def shares(case, lists, seed):
    invented = invented_case()
    found = held(case, invented.priors, invented.work, lists=lists, seed=seed, draws=1024)
    return {what: found[what].mean() for what in ASKED}


def test_intervals_hold_what_they_say_where_two_people_looked_at_four_boats():
    """If graders count as known, the intervals of the condition hold only 50 to 65% here."""
    found = shares(Case("model", boats=4, graders=2, looked=0.9), lists=150, seed=7)
    assert {what: share for what, share in found.items() if not 0.75 < share < 0.85} == {}


@pytest.mark.parametrize("kind", KINDS[1:])
def test_they_hold_nearly_as_often_where_the_truth_is_another_than_the_models(kind):
    found = shares(Case(kind, boats=4, graders=2, looked=0.5), lists=60, seed=8)
    assert {what: share for what, share in found.items() if share < 0.70} == {}
