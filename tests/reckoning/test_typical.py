"""A kind of grader of whom each is met once: what sellers' answers are worth."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.reckoning.belief import fit
from apps.reckoning.grader_priors import WIDENING, member_prior, seller_prior
from apps.reckoning.levels import LEVELS, mean_level
from apps.reckoning.priors import CheckpointPriors, Fleet, Reports
from apps.reckoning.typical import SELLERS, KindFigure, Typical

ONE = Fleet(np.full((1, 1), 30.0), np.ones((1, 1), dtype=bool))


def checkpoint(mu: float, sd: float) -> CheckpointPriors:
    return CheckpointPriors(*(np.array([figure]) for figure in (mu, 0.0, 0.4, sd)))


def reports(*levels: int) -> Reports:
    at = np.zeros(len(levels), dtype=np.intp)
    widening = np.full(len(levels), WIDENING["sure"])
    return Reports(at, at, at, np.array(levels, dtype=np.intp), widening)


def believed(priors: CheckpointPriors, grader, *levels: int) -> float:
    belief = fit(ONE, priors, reports(*levels), grader, calibrate=False)
    return float(mean_level(belief.level)[0, 0])


def leaning(lean: float, praise: float = 0.0):
    """A seller with another lean, and another chance of praise whatever the truth."""
    known = seller_prior(known=Typical(KindFigure(lean, 0.2, 0.2), SELLERS.log_spread))
    return replace(known, praise=np.array([praise]))


@given(
    mu=st.floats(0.0, 2.5),
    sd=st.floats(0.5, 1.5),
    lean=st.floats(-1.2, 0.0),
    more=st.floats(0.05, 0.3),
)
def test_who_leans_more_to_the_good_counts_less_when_saying_sound(mu, sd, lean, more):
    priors = checkpoint(mu, sd)
    prior = believed(priors, leaning(lean))
    little, much = believed(priors, leaning(lean), 0), believed(priors, leaning(lean - more), 0)
    assert little <= much + 1e-9
    assert much <= prior + 1e-9


@given(
    mu=st.floats(0.0, 3.0),
    sd=st.floats(0.5, 1.5),
    praise=st.floats(0.0, 0.5),
    more=st.floats(0.05, 0.4),
)
def test_who_praises_whatever_the_truth_counts_less(mu, sd, praise, more):
    priors = checkpoint(mu, sd)
    prior = believed(priors, leaning(-0.5))
    little = believed(priors, leaning(-0.5, praise), 0)
    much = believed(priors, leaning(-0.5, praise + more), 0)
    assert little <= much + 1e-9
    assert much <= prior + 1e-9


@given(mu=st.floats(0.0, 2.5), sd=st.floats(0.5, 1.5))
def test_a_seller_who_says_sound_counts_less_than_a_member_who_saw_it(mu, sd):
    priors = checkpoint(mu, sd)
    told, seen = believed(priors, seller_prior(), 0), believed(priors, member_prior(), 0)
    assert believed(priors, seller_prior()) >= told >= seen - 1e-9


@given(mu=st.floats(0.0, 2.5), sd=st.floats(0.5, 1.5), level=st.integers(2, 4))
def test_what_a_seller_admits_is_believed_to_be_at_least_so_bad(mu, sd, level):
    """Who leans to the good and says defective is taken at more than a member's word."""
    priors = checkpoint(mu, sd)
    told, seen = believed(priors, seller_prior(), level), believed(priors, member_prior(), level)
    assert told > believed(priors, seller_prior())
    if level < LEVELS - 1 and seen > level:
        assert told > level


FIGURES = st.lists(st.tuples(st.floats(-1.5, 1.5), st.floats(0.05, 0.49)), min_size=1, max_size=20)


@given(FIGURES)
def test_a_prior_taken_out_and_put_back_is_the_same(posteriors):
    mean, sd = (np.array(column) for column in zip(*posteriors, strict=True))
    about = KindFigure(-0.75, 0.3, 0.4)
    measured, width = about.taken_out(mean, sd)
    precision = width**-2.0 + about.one_sd**-2.0
    back = (measured * width**-2.0 + about.mean * about.one_sd**-2.0) / precision
    assert back == pytest.approx(mean, abs=1e-6)
    assert precision**-0.5 == pytest.approx(sd)


@given(FIGURES)
def test_more_sellers_make_the_kind_surer_and_never_a_single_one(posteriors):
    mean, sd = (np.array(column) for column in zip(*posteriors, strict=True))
    about = KindFigure(-0.75, 0.3, 0.4)
    learned = about.learned(mean, sd)
    assert 0 < learned.sd < about.sd
    assert learned.between == about.between
    assert learned.one_sd > about.between
    low, high = min(*mean, about.mean), max(*mean, about.mean)
    assert low - 1e-9 <= learned.mean <= high + 1e-9


def test_who_taught_nothing_moves_nothing():
    about = KindFigure(-0.75, 0.3, 0.4)
    measured = about.taken_out(np.array([-0.75]), np.array([about.one_sd]))
    learned = about.learned(*measured)
    assert (learned.mean, learned.sd) == pytest.approx((about.mean, about.sd))
    assert about.learned(np.array([]), np.array([])) == about


def test_sellers_lean_is_found_again():
    """Forty sellers who lean by -1.1 on average, and differ by 0.4; the seed is fixed."""
    rng = np.random.default_rng(3)
    own = rng.normal(-1.1, 0.4, 40)
    measured = own + rng.normal(0, 0.3, 40)
    one_sd = SELLERS.lean.one_sd
    variance = 1 / (one_sd**-2.0 + 0.3**-2.0)
    mean = variance * (SELLERS.lean.mean * one_sd**-2.0 + measured * 0.3**-2.0)
    sd = np.full(40, variance**0.5)
    spread = np.full(40, SELLERS.log_spread.one_sd)
    found = SELLERS.after(mean, sd, np.full(40, SELLERS.log_spread.mean), spread)
    assert found.lean.mean == pytest.approx(-1.05, abs=0.12)
    assert found.lean.sd < 0.1
    assert found.log_spread.mean == pytest.approx(SELLERS.log_spread.mean)
    prior = seller_prior(known=found)
    assert prior.lean_mean[0] == found.lean.mean


def test_a_kind_needs_some_uncertainty():
    with pytest.raises(ValueError, match="sd"):
        KindFigure(0.0, 0.0, 0.0)
