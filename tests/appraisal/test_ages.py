"""Assumed ages of parts: answers name them, and unknown ages are priced fairly."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from django.utils import timezone

from apps.appraisal.compute.arrays import list_arrays
from apps.appraisal.compute.costing import cost_of, jobs_of
from apps.appraisal.compute.inputs import Inputs, read_inputs
from apps.catalogue.ages import OLDEST_TAKEN, ages_of
from apps.reckoning.belief import fit
from apps.reckoning.grader_priors import member_prior
from apps.reckoning.moments import moments
from apps.reckoning.priors import CARE_PRIOR, Reports, prior_levels

TODAY = date(2025, 6, 1)


@pytest.fixture
def inputs(yard) -> Inputs:
    """One boat, of which only the build year is known."""
    yard.boat("Petrel", build_year=1980)
    return replace(read_inputs(yard.list.pk), today=TODAY)


def ages(inputs: Inputs, **numbers: float | None) -> dict[str, tuple[float, bool]]:
    boat = inputs.boats[0]
    known = {k: v for k, v in {**boat.numbers, **numbers}.items() if v is not None}
    found = ages_of(replace(boat, numbers=known), inputs.today)
    return {age.part: (age.years, age.known) for age in found}


def test_a_known_year_is_what_counts(inputs):
    found = ages(inputs, engine_year=2005, rigging_year=1985, sails_year=2025)
    assert found == {
        "boat": (45, True),
        "engine": (20, True),
        "standing_rigging": (40, True),
        "sails": (0, True),
    }


def test_parts_of_an_old_boat_are_not_taken_to_be_the_first_ones(inputs):
    assert ages(inputs) == {
        "boat": (45, True),
        "engine": (30, False),
        "standing_rigging": (20, False),
        "sails": (15, False),
    }


def test_parts_of_a_young_boat_are_as_old_as_she_is(inputs):
    found = ages(inputs, build_year=2015)
    assert {years for years, _ in found.values()} == {10}


def test_a_boat_of_unknown_age_is_taken_for_the_reference_age(inputs):
    found = ages(inputs, build_year=None)
    assert found["boat"] == (30, False)
    assert found["sails"] == (15, False)


def work_of(inputs: Inputs, **numbers: float) -> float:
    """Expected work on the boat before anybody looked."""
    boat = replace(inputs.boats[0], numbers={**inputs.boats[0].numbers, **numbers})
    return Before(replace(inputs, boats=(boat,))).work(NOTHING)[0]


NOTHING = Reports(*(np.zeros(0, dtype=np.intp),) * 4, np.zeros(0))


class Before:
    """One boat, and what reports on her would make of the expected work."""

    def __init__(self, inputs: Inputs) -> None:
        self.inputs, self.arrays = inputs, list_arrays(inputs)
        self.jobs = jobs_of(inputs.snapshot.catalogue)

    def work(self, reports: Reports) -> tuple[float, np.ndarray]:
        belief = fit(self.arrays.fleet, self.arrays.priors, reports, member_prior(2))
        care, level = belief.care[0], belief.level_given_care[0]
        cost = cost_of(self.inputs.boats[0], self.inputs, self.jobs, care, level)
        return moments(care, level, cost.work, cost.purchase).work_mean, care


def test_knowing_a_recent_year_makes_her_cheaper_and_an_old_one_dearer(inputs):
    unknown = work_of(inputs)
    for part, year in (("engine", "engine_year"), ("standing_rigging", "rigging_year")):
        taken = TODAY.year - OLDEST_TAKEN[part]
        assert (
            work_of(inputs, **{year: taken + 10}) < unknown < work_of(inputs, **{year: taken - 9})
        )
    # The known year decides for rigging, and the supply of spare parts for an engine: one that is
    # only assumed to be old may be better than that.
    taken = TODAY.year - OLDEST_TAKEN["engine"]
    assert unknown < work_of(inputs, engine_year=taken) < 1.01 * unknown
    assert work_of(inputs, rigging_year=TODAY.year - OLDEST_TAKEN["standing_rigging"]) > unknown


def test_looking_neither_adds_nor_takes_work_on_average(inputs):
    """A checkpoint that nobody saw is priced at its average level.

    Boats drawn from the model itself, each looked at for 30% by two people: the mean of what is
    expected after looking is what was expected before. A bias here would favour boats that were
    looked at much, or little.
    """
    before = Before(inputs)
    rng = np.random.default_rng(3)
    prior = prior_levels(before.arrays.fleet, before.arrays.priors)[0]
    applies = np.flatnonzero(before.arrays.fleet.applies[0])
    after = []
    for _ in range(60):
        care = rng.choice(3, p=CARE_PRIOR)
        seen = rng.choice(applies, size=int(0.3 * len(applies)), replace=False)
        level = np.array([rng.choice(5, p=prior[care, j]) for j in seen])
        who = rng.integers(0, 2, len(seen))
        lean, spread = rng.normal(0, 0.5, 2), np.exp(rng.normal(np.log(0.6), 0.35, 2))
        said = np.clip(np.rint(rng.normal(level + lean[who], spread[who])), 0, 4).astype(np.intp)
        boat = np.zeros(len(seen), dtype=np.intp)
        after.append(before.work(Reports(boat, seen, who, said, np.ones(len(seen))))[0])
    expected, _ = before.work(NOTHING)
    standard_error = np.std(after, ddof=1) / np.sqrt(len(after))
    assert standard_error < 0.04 * expected
    assert abs(np.mean(after) - expected) < 3 * standard_error


# --- What answers say ----------------------------------------------------------------------------


def test_the_answers_name_every_age_that_was_taken_for_granted(yard, cast):
    year = timezone.localdate().year
    boat = yard.boat("Petrel", build_year=year - 45, engine_year=year - 12)
    yard.recompute()
    consensus = cast.ben.get(f"/candidates/{boat.pk}/consensus").json()["consensus"]
    assert consensus["ages"] == [
        {"part": "boat", "years": 45, "known": True},
        {"part": "engine", "years": 12, "known": True},
        {"part": "standing_rigging", "years": 20, "known": False},
        {"part": "sails", "years": 15, "known": False},
    ]
    said = [
        "Nobody knows when the standing rigging was renewed: it is assumed to be 20 years old.",
        "Nobody knows when the sails were made: they are assumed to be 15 years old.",
    ]
    assert consensus["sentences"] == said
    rollup = cast.ben.get(f"/candidates/{boat.pk}/rollup").json()["rollup"]
    taken = [one for one in rollup["assumed"] if one["code"] == "age_unknown"]
    assert [(one["part"], one["years"]) for one in taken] == [
        ("standing_rigging", 20),
        ("sails", 15),
    ]
    assert [one["sentence"] for one in taken] == said


def test_a_renewal_year_moves_what_hangs_on_it_and_nothing_else(yard, cast):
    year = timezone.localdate().year
    old, renewed = (
        yard.boat(name, build_year=year - 40, rigging_year=year - age)
        for name, age in (("Petrel", 30), ("Fulmar", 3))
    )
    yard.recompute()

    def means(boat) -> dict[str, float]:
        found = cast.ben.get(f"/candidates/{boat.pk}/consensus").json()["consensus"]["checkpoints"]
        return {one["checkpoint"]: one["mean"] for one in found}

    before, after = means(old), means(renewed)
    assert after["wire-age"] < before["wire-age"] - 1
    assert after["engine-oil"] == before["engine-oil"]
