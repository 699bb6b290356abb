"""The value of a further look, in money (model section 5).

The decision is to go on with one candidate or with none: V = max(0, max_i E[U_i]). The value of a
look is the expected rise of V, before anybody knows the result. It is zero if no answer would
change the choice. This leaves out the effect of a look on bargaining, on safety and on insurance.
"Worth it" means only: for the choice between these candidates.

Each value is an expectation of a maximum over groups of outcomes, minus the maximum of the
expectation over the same outcomes. It is never negative, never falls when groups are split,
and never exceeds the value with every outcome in a group of its own (Jensen's inequality):
- One check: groups are the possible reports. A true level seen through a grader is a garbling of
  the level, so a report is never worth more than the level itself (Blackwell, 1953, Annals of
  Mathematical Statistics 24, 265-272).
- A visit or a survey, with many reports at once: groups are draws with like findings, see visits.
- Some estimates must bound one another but come from different groups. Then the larger holds for
  both: a visit is worth at least its best check, and everything at least as much as any part.

Raiffa & Schlaifer (1961), Applied Statistical Decision Theory; the estimate by grouping draws is a
regression of the outcome on the findings, as in Strong, Oakley & Brennan (2014), Medical Decision
Making 34, 311-326.

I candidates, J checkpoints, D draws. A report table is P(grader reports k | true level t), (5, 5)
indexed t, k, each row summing to 1, or (J, 5, 5), or (I, J, 5, 5); None is a look that sees the
level as it is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.belief import averaged
from apps.reckoning.conditional import ByLevel, by_level
from apps.reckoning.expected import Expected
from apps.reckoning.levels import LEVELS
from apps.reckoning.simulation import Draws, Levels, by_outcome
from apps.reckoning.utility import Cost
from apps.reckoning.visits import Groups, Visitor, foretold, reports_by, reports_of
from apps.reckoning.work import Work, require, require_all


@dataclass(frozen=True, slots=True, eq=False)
class Prospect:
    """The figures of one candidate that the value of looking needs.

    care: (3,), level_given_care: (3, J, 5): the belief it was simulated from, averaged over the
    graders. table: see by_level.
    level: (J, D), graders: (D,): of its draws. outcome: (D,) the number of each among the outcomes
    common to all boats; cost: in the order of these. valuation: to the group, in money.
    """

    care: Floats
    level_given_care: Floats
    table: ByLevel
    level: Levels
    graders: Ints
    outcome: Ints
    cost: Cost
    valuation: float


def prospect(
    care: Floats,
    level_given_care: Floats,
    draws: Draws,
    work: Work,
    expected: Expected,
    *,
    valuation: float,
    budget: float,
) -> Prospect:
    """The prospect of a candidate; its draws are not needed after this.

    care, level_given_care: as simulated, possibly mixed over draws of the graders. expected: of
    the same belief, work and purchase.
    """
    mean_care, mean_level = averaged(
        care.reshape(-1, care.shape[-1]), level_given_care.reshape(-1, *level_given_care.shape[-3:])
    )
    return Prospect(
        care=mean_care,
        level_given_care=mean_level,
        table=by_level(draws, care, level_given_care, work, expected, budget),
        level=draws.level,
        graders=draws.graders,
        outcome=draws.outcome,
        cost=Cost(
            draws.by_outcome(draws.upfront),
            draws.by_outcome(draws.all_in),
            expected.upfront,
            expected.all_in,
        ),
        valuation=valuation,
    )


class Decision:
    """The choice between candidates, as it stands.

    utility: (I, D) U of every draw. expected: (I,) its mean. error: (I,) its standard error from
    drawing. other: (I,) value of the alternative if this candidate were not there: the best of the
    others, or 0 for none. value: V.
    """

    def __init__(self, prospects: Sequence[Prospect], *, budget: float, penalty: float) -> None:
        """penalty: lambda, see utility.overrun_penalty. Raises ValueError naming the field."""
        require(len(prospects) > 0, "prospects", "needs at least one")
        require(penalty >= 0, "penalty", "is negative or not a number")
        for index, each in enumerate(prospects):
            alike = each.level.shape == prospects[0].level.shape and len(each.cost.all_in) == len(
                prospects[0].cost.all_in
            )
            require(
                alike, f"prospects[{index}]", "has other checkpoints or another number of draws"
            )
            require(
                bool(np.isfinite(each.valuation)),
                f"prospects[{index}].valuation",
                "is not a number",
            )
        self.prospects = prospects
        self.budget, self.penalty = budget, penalty
        self.utility = np.stack(
            [each.cost.utility(each.valuation, budget, penalty) for each in prospects]
        )
        self.expected = self.utility.mean(axis=1)
        self.error = np.array([each.cost.regretted(budget, penalty).error for each in prospects])
        self.other = _best_other(self.expected)
        self.value = max(0.0, float(self.expected.max()))

    @cached_property
    def chance(self) -> Floats:
        """P(care class, level) of every checkpoint, (I, J, 3, 5)."""
        return np.stack(
            [
                (each.care[:, None, None] * each.level_given_care).transpose(1, 0, 2)
                for each in self.prospects
            ]
        )

    @cached_property
    def by_level(self) -> Floats:
        """E[U | care class, level] of every checkpoint, (I, J, 3, 5).

        Shifted for each checkpoint so that their mean is E[U], as for the draws.
        """
        table = np.stack(
            [
                each.valuation - each.table.all_in - self.penalty * each.table.overrun
                for each in self.prospects
            ]
        )
        mean = (self.chance * table).sum(axis=(2, 3))
        moved: Floats = table + (self.expected[:, None] - mean)[:, :, None, None]
        return moved

    @cached_property
    def perfect(self) -> Floats:
        """EVPPI: the value of knowing one checkpoint's level for sure, (I, J), in money."""
        return self.checks(None)

    def checks(self, report: Floats | None) -> Floats:
        """EVSI: the value of one more report on one checkpoint, (I, J), in money.

        report: table of the grader who would look; None gives EVPPI. 0 where the checkpoint does
        not apply. Raises ValueError for an invalid table.
        """
        level = self.chance.sum(axis=2)  # (I, J, 5) P(t)
        utility = (self.chance * self.by_level).sum(axis=2)  # (I, J, 5) P(t) E[U | t]
        if report is not None:
            report = _checked_report(report)
            level = np.einsum("...t,...tk->...k", level, report)
            utility = np.einsum("...t,...tk->...k", utility, report)
        lead = utility - level * self.other[:, None, None]
        # E max(lead, 0) - max(E lead, 0), without rounding where no answer changes the choice.
        gain: Floats = np.minimum(
            np.maximum(lead, 0.0).sum(axis=2), np.maximum(-lead, 0.0).sum(axis=2)
        )
        return gain

    def findings(
        self,
        candidate: int,
        checkpoints: Bools,
        report: Floats | Visitor | None,
        *,
        seed: int,
        hampered: Bools | None = None,
    ) -> Groups:
        """Groups of draws that reports on some checkpoints of one candidate would separate.

        checkpoints: (J,) which can be looked at. report: a table, whose reports are independent
        given the levels, or one visitor. hampered: (J,) where a visitor's look is only a guess.
        """
        each = self.prospects[candidate]
        among = checkpoints & each.level_given_care.any(axis=(0, 2))
        hampered = np.zeros_like(checkpoints) if hampered is None else hampered
        tables = _tables(report, hampered)[among]
        if isinstance(report, Visitor):
            reports = reports_by(
                report, each.level[among], each.graders, hampered[among], seed=seed
            )
        else:
            reports = reports_of(each.level[among], tables, seed=seed)
        score = foretold(
            each.care,
            each.level_given_care[:, among],
            self.by_level[candidate, among],
            reports,
            tables,
        )
        return Groups(by_outcome(score, each.outcome))

    def visit(
        self,
        candidate: int,
        checkpoints: Bools,
        report: Floats | Visitor | None,
        *,
        seed: int,
        hampered: Bools | None = None,
    ) -> float:
        """EVSI of looking at several checkpoints of one candidate, in money.

        checkpoints: (J,). report: of the visitor; hampered: (J,), see findings. At least the value
        of the best check among them, and at most that of the same visit with nothing hampered, of
        which it is a garbling. Raises ValueError for an invalid table.
        """
        hampered = np.zeros_like(checkpoints) if hampered is None else hampered & checkpoints
        findings = self.findings(candidate, checkpoints, report, seed=seed, hampered=hampered)
        gain = findings.gain(self.utility[candidate], float(self.other[candidate]))
        if hampered.any():
            gain = min(gain, self.visit(candidate, checkpoints, report, seed=seed))
        each_check = self.checks(_tables(report, hampered))[candidate, checkpoints]
        return max(gain, float(each_check.max(initial=0.0)))

    def visits(
        self,
        candidate: int,
        kinds: Bools,
        report: Floats | Visitor | None,
        *,
        seed: int,
        hampered: Bools | None = None,
    ) -> Floats:
        """EVSI of each of V kinds of visit to one candidate, (V,), in money.

        kinds: (V, J) checkpoints that each allows (as the boat lies, mast up, cover off); hampered:
        (V, J) where it gives only a guess. A visit that allows all that another one allows, equally
        well, is worth at least as much, whatever the draws give.
        """
        hampered = np.zeros_like(kinds) if hampered is None else hampered
        valuation = np.array(
            [
                self.visit(candidate, kind, report, seed=seed, hampered=guess)
                for kind, guess in zip(kinds, hampered, strict=True)
            ]
        )
        seen = kinds & ~hampered
        # (V, V) the second in the first
        within = ~((kinds[None] & ~kinds[:, None]) | (seen[None] & ~seen[:, None])).any(axis=2)
        return np.asarray(np.where(within, valuation, 0.0).max(axis=1, initial=0.0))

    def everything(self, candidate: int) -> float:
        """The value of knowing all about one candidate, prices included.

        The others stay at their expectations: no look at her shows what yards charge that year.
        If that were known too, the value would be a tenth to a fifth higher (measured on 24 random
        lists); `ceiling` includes it.
        """
        other = float(self.other[candidate])
        known = float(np.maximum(self.utility[candidate], other).mean())
        gain = known - max(float(self.expected[candidate]), other)
        return max(gain, float(self.perfect[candidate].max(initial=0.0)))

    @property
    def ceiling(self) -> float:
        """EVPI: the value of knowing all about all candidates. No look is worth more.

        A visit's groups join draws that are separate here, so Jensen's inequality holds.
        """
        known = float(np.maximum(self.utility.max(axis=0), 0.0).mean())
        parts = (self.everything(candidate) for candidate in range(len(self.prospects)))
        return max(known - self.value, *parts)


def _best_other(expected: Floats) -> Floats:
    """For each candidate the best of all others and of buying none, (I,)."""
    without = np.where(np.eye(len(expected), dtype=bool), -np.inf, expected)
    best: Floats = np.maximum(without.max(axis=1), 0.0)
    return best


def _tables(report: Floats | Visitor | None, hampered: Bools) -> Floats:
    """(J, 5, 5): P(report k | true level t) of each checkpoint. Only a visitor is hampered."""
    if isinstance(report, Visitor):
        return _checked_report(report.reports(hampered))
    table = np.eye(LEVELS) if report is None else _checked_report(report)
    return np.broadcast_to(table, (len(hampered), LEVELS, LEVELS))


def _checked_report(report: Floats) -> Floats:
    require(
        report.shape[-2:] == (LEVELS, LEVELS), "report", f"needs (..., 5, 5), has {report.shape}"
    )
    require_all(report >= 0, "report", "is negative or not a number")
    require_all(np.abs(report.sum(axis=-1) - 1) < 1e-6, "report", "does not sum to 1")
    return report
