"""Looks at what a professional has judged: they say how people see, no longer how the boat is.

Many members who see nothing wrong are no evidence against a professional who does: what is hidden
from one of them is hidden from all, while the model takes their errors as independent. So such
looks move to a second column of their checkpoint. Its prior is the professional's level, within his
spread, whatever the care class: there they calibrate the people who looked, and nothing else.
"""

from dataclasses import dataclass, replace

import numpy as np

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.priors import REFERENCE_AGE, CheckpointPriors, Fleet, Reports, check

# A surveyor's spread in levels, as in `grader_priors.surveyor_prior`.
SPREAD = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class SetApart:
    """The input of a fit, with a second column for each checkpoint in `columns`, after the others.

    columns: (M,), indices of checkpoints.
    """

    fleet: Fleet
    priors: CheckpointPriors
    reports: Reports
    columns: Ints

    @property
    def judged(self) -> Floats:
        """(N,): the professional's level, for reports in the second columns; others -1."""
        assert self.fleet.shift is not None  # it holds those levels
        level = self.fleet.shift[self.reports.boat, self.reports.checkpoint]
        return np.where(self.second[self.reports.checkpoint], level, -1.0)

    @property
    def second(self) -> Bools:
        """(J + M,): which of the columns are second ones."""
        columns = len(self.priors.mu)
        return np.arange(columns) >= columns - len(self.columns)


def set_apart(
    fleet: Fleet, priors: CheckpointPriors, reports: Reports, apart: Bools, judged: Floats
) -> SetApart:
    """Move reports to the second columns.

    apart: (N,), the reports to move. judged: (I, J), the professional's level where there is one,
    read only where a report moves. Raises ValueError for another shape.
    """
    check(apart.shape == reports.level.shape, "apart", "one value a report")
    check(judged.shape == fleet.applies.shape, "judged", "of the shape of applies")
    columns, place = np.unique(reports.checkpoint[apart], return_inverse=True)
    boats, checkpoints = fleet.applies.shape
    applies = np.zeros((boats, len(columns)), dtype=np.bool_)
    applies[reports.boat[apart], place] = True
    checkpoint = reports.checkpoint.copy()
    checkpoint[apart] = checkpoints + place
    return SetApart(
        fleet=_wider(fleet, applies, np.where(applies, judged[:, columns], 0.0)),
        priors=_longer(priors, len(columns)),
        reports=replace(reports, checkpoint=checkpoint),
        columns=columns,
    )


def _wider(fleet: Fleet, applies: Bools, level: Floats) -> Fleet:
    shift = np.zeros(fleet.applies.shape) if fleet.shift is None else fleet.shift
    at_least = fleet.at_least
    if at_least is not None:
        at_least = np.hstack([at_least, np.zeros(applies.shape, dtype=at_least.dtype)])
    return replace(
        fleet,
        part_age=np.hstack([fleet.part_age, np.full(applies.shape, REFERENCE_AGE)]),
        applies=np.hstack([fleet.applies, applies]),
        shift=np.hstack([shift, level]),
        at_least=at_least,
    )


def _longer(priors: CheckpointPriors, columns: int) -> CheckpointPriors:
    nothing = np.zeros(columns)
    breakage = priors.breakage
    return CheckpointPriors(
        mu=np.concatenate([priors.mu, nothing]),
        age=np.concatenate([priors.age, nothing]),
        care=np.concatenate([priors.care, nothing]),
        sd=np.concatenate([priors.sd, np.full(columns, SPREAD)]),
        breakage=None if breakage is None else np.concatenate([breakage, nothing]),
    )
