"""Expected work on boats that nobody looked at, by the shipped catalogue (`bench_ages`)."""

import numpy as np
import pytest

from apps.catalogue.ages import effective_age
from apps.reckoning.levels import mean_level
from apps.reckoning.priors import CARE_PRIOR
from tests.bench.unseen import AGES, TODAY, USUAL, WANTED, Unseen
from tests.catalogue.real import REAL

UNSEEN = Unseen(REAL)
CODES = list(UNSEEN.catalogue.checkpoints)


def level(code: str, age: float, **years: float) -> np.ndarray:
    """(5,), whatever the care class."""
    return np.array(CARE_PRIOR) @ UNSEEN.levels(age, **years)[:, CODES.index(code)]


@pytest.mark.parametrize("loa_m", WANTED)
@pytest.mark.parametrize("age", AGES)
def test_median_work_is_within_a_quarter_of_what_is_wanted(age, loa_m):
    (median,) = UNSEEN.work_costs(age, loa_m, (0.5,)) / 1000
    assert median == pytest.approx(WANTED[loa_m][AGES.index(age)], rel=0.25)


@pytest.mark.parametrize("loa_m", WANTED)
@pytest.mark.parametrize("age", [age for age in AGES if age > 20])
def test_the_dear_end_is_about_2_2_times_the_median(age, loa_m):
    """For boats old enough to be looked at; few young ones have anything, and that is dear."""
    median, high = UNSEEN.work_costs(age, loa_m, (0.5, 0.9))
    assert high / median == pytest.approx(2.2, rel=0.15)


@pytest.mark.parametrize("loa_m", WANTED)
@pytest.mark.parametrize("age", [age for age in AGES if age < 20])
def test_the_dear_end_of_young_boats(age, loa_m):
    """Wanted: about 2.2 too. Most have little to do, one in ten a rig, sails or a breakage."""
    median, high = UNSEEN.work_costs(age, loa_m, (0.5, 0.9))
    assert 2.2 < high / median < 3.0


def test_work_on_8_m_is_about_0_62_of_that_on_10_m():
    shares = [
        UNSEEN.work_costs(age, 8.0, (0.5,))[0] / UNSEEN.work_costs(age, 10.0, (0.5,))[0]
        for age in AGES
    ]
    assert np.mean(shares) == pytest.approx(0.62, rel=0.15)


def test_a_boat_that_is_still_there_was_refitted():
    """Common practice, no source: after 20 years a boat ages ever less, and after 35 no more."""
    assert [effective_age(years) for years in (0, 7.5, 20)] == [0, 7.5, 20]
    assert effective_age(35) == pytest.approx(20 + 15 * (1 - np.exp(-1)))
    assert effective_age(200) == pytest.approx(35, abs=1e-3)


def test_a_deck_of_30_years_is_defective_on_about_a_quarter_of_boats():
    assert level("deck-tapping", 30)[3:].sum() == pytest.approx(0.25, abs=0.05)


WIRE = "wire-age"


def test_of_unknown_year_rigging_and_sails_are_tired_on_average():
    for code in (WIRE, *(code for code in CODES if by_sails(code))):
        assert mean_level(level(code, 35)) == pytest.approx(2.3, abs=0.1), code


def by_sails(code: str) -> bool:
    checkpoint = UNSEEN.catalogue.checkpoints[code]
    return checkpoint.belief.ages_with == "sails" and checkpoint.measure is not None


@pytest.mark.parametrize(("years", "at_least"), [(5, 0), (11, 1), (14, 2), (20, 3), (40, 3)])
def test_a_known_year_decides_whatever_it_looks_like(years, at_least):
    known = level(WIRE, 40, rigging_year=TODAY.year - years)
    assert known[:at_least].sum() == 0
    assert known.sum() == pytest.approx(1.0)


def test_new_wire_is_new_on_an_old_boat():
    assert mean_level(level(WIRE, 40, rigging_year=TODAY.year - 1)) < 0.4


@pytest.mark.parametrize(("years", "at_least"), [(8, 0), (20, 1), (30, 2), (45, 3)])
def test_an_engines_year_decides_what_there_is_of_spare_parts(years, at_least):
    known = level("engine-spares", 45, engine_year=TODAY.year - years)
    assert known[:at_least].sum() == 0
    assert known[at_least] > 0


@pytest.mark.parametrize("code", ["engine-oil", "saildrive-seal"])
def test_an_engines_year_decides_nothing_of_what_is_renewed_apart(code):
    boats = Unseen(UNSEEN.catalogue, {**USUAL, "drive": "saildrive"})
    found = boats.levels(40, engine_year=TODAY.year - 40)[:, CODES.index(code)]
    assert (found > 0).all()


@pytest.mark.parametrize(
    ("code", "kind", "years", "at_least"),
    [
        ("rod-rigging", "rod", 16, 2),
        ("rod-rigging", "rod", 25, 3),
        ("fibre-rigging", "fibre", 9, 2),
    ],
)
def test_rods_and_fibre_go_by_their_year_as_wire_does(code, kind, years, at_least):
    boats = Unseen(UNSEEN.catalogue, {**USUAL, "standing_rigging": kind})
    place = CODES.index(code)
    known = boats.levels(40, rigging_year=TODAY.year - years)[:, place]
    assert known[:, :at_least].sum() == 0
    unknown = np.array(CARE_PRIOR) @ boats.levels(35)[:, place]
    assert mean_level(unknown) == pytest.approx(2.3, abs=0.1)
