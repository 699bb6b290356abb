"""Expected work on a boat that nobody has looked at, by age and length."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType

import numpy as np

from apps.appraisal.compute.arrays import checkpoint_priors
from apps.appraisal.compute.costing import Jobs, jobs_of
from apps.catalogue.ages import ages_of, levels_by_year, part_ages
from apps.catalogue.applicability import applies
from apps.catalogue.snapshot import Catalogue
from apps.outcomes.estimates import job_of
from apps.reckoning.arrays import Floats
from apps.reckoning.pricing import Rates, Size, price_jobs
from apps.reckoning.priors import CARE_PRIOR, Fleet, prior_levels
from apps.reckoning.simulation import Draws, simulate
from apps.reckoning.work import Purchase, Work

TODAY = date(2024, 6, 1)  # the catalogue's base year
# A laminate fin-keeler with a diesel and a shaft: what most boats on a list are.
USUAL: Mapping[str, str] = MappingProxyType(
    {
        "hull_material": "grp",
        "keel": "bolted_fin",
        "keel_ballast": "iron",
        "rudder": "skeg",
        "drive": "strut_shaft",
        "propeller": "fixed",
        "mast": "deck_stepped",
        "standing_rigging": "wire",
        "fuel": "diesel",
    }
)


# Median work on a boat nobody looked at, in thousand USD of 2024, by length in m and age in years.
# Project's own estimate.
AGES = (2, 11, 21, 31, 41, 51, 61)
WANTED: Mapping[float, tuple[float, ...]] = MappingProxyType(
    {
        10.0: (1.5, 7.0, 13.0, 18.0, 22.0, 25.0, 27.0),
        8.0: (1.0, 4.5, 8.0, 11.0, 14.0, 15.5, 17.0),
    }
)


@dataclass(frozen=True)
class Dated:
    """A boat's years."""

    numbers: dict[str, float]


class Unseen:
    """Boats of one kind at the catalogue's own rates and money."""

    def __init__(self, catalogue: Catalogue, built_of: Mapping[str, str] = USUAL) -> None:
        self.catalogue, self.built_of = catalogue, built_of
        self.jobs: Jobs = jobs_of(catalogue)

    def levels(self, age: float, **years: float) -> Floats:
        """(3, J, 5): P(level | care class); zeros where a checkpoint does not apply.

        years: of renewal, as far as they are known (rigging_year, ...).
        """
        checkpoints = tuple(self.catalogue.checkpoints.values())
        ages = (ages_of(Dated({"build_year": TODAY.year - age, **years}), TODAY),)
        fleet = Fleet(
            part_age=part_ages(ages, checkpoints),
            applies=np.array([[applies(c, self.built_of) for c in checkpoints]]),
            at_least=levels_by_year(ages, checkpoints, self.catalogue.scales),
        )
        return prior_levels(fleet, checkpoint_priors(checkpoints))[0]

    def draws(self, age: float, loa_m: float, *, draws: int = 65_536) -> Draws:
        level = self.levels(age)
        return simulate(
            np.array(CARE_PRIOR), level, self.work(loa_m), Purchase(0.0), seed=1, draws=draws
        )

    def work_costs(self, age: float, loa_m: float, quantiles: Sequence[float]) -> Floats:
        """Quantiles of the total work, in the catalogue's money."""
        return np.quantile(self.draws(age, loa_m).work_cost, quantiles)

    def work(self, loa_m: float) -> Work:
        jobs, size = self.jobs, Size(loa_m, price=10_000.0)
        rates = Rates(yard_hour=self.catalogue.money.yard_rate.likely)
        remedies = [job_of(remedy.on(self.built_of)) for remedy in jobs.remedies]
        return Work(
            remedies=price_jobs(remedies, size, rates).prices,
            enabling=price_jobs([job_of(one) for one in jobs.enabling], size, rates).prices,
            needs=jobs.needs,
            now=jobs.now,
            link_checkpoint=jobs.link_checkpoint,
            link_remedy=jobs.link_remedy,
            link_probability=jobs.link_probability,
            link_extent=jobs.extent_on(loa_m),
        )
