"""Sums the shared data over boats, and decides which sums may be published.

A published figure stays until enough groups have new data, because figures before and after one
group's survey would reveal that survey. A figure that rested on a group that stopped sharing is
published again only when so much else has changed that nothing about that group follows.
"""

import hashlib
import math
import uuid
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from functools import cached_property
from typing import Any, TypedDict

import numpy as np

from apps.catalogue.ages import ages_of, levels_by_year, part_ages
from apps.catalogue.content import CheckpointEntry
from apps.catalogue.scales import ScaleEntry
from apps.common.shapes import Id, found
from apps.outcomes.estimates import bills_against_estimates
from apps.outcomes.gathering import Shared, SharedBoat, Surveyed
from apps.outcomes.kinds import AGE, ALL, Cell, cells_of, divided_by
from apps.outcomes.models import OutcomesTable
from apps.reckoning.arrays import Bools, Ints
from apps.reckoning.disclosure import may_be_disclosed
from apps.reckoning.outcomes import (
    TROUBLE,
    Estimated,
    expected_over_care,
    mean_of,
    ratio_of,
    share_of,
    trouble_expected,
)
from apps.reckoning.priors import REFERENCE_AGE, broken_by

Kind = OutcomesTable.Kind
# The prior spread of quick looks around a survey, in levels, and of bills around estimates, as a
# logarithm. Each counts as two observations, so four that agree are not taken as certain. Own
# choice.
DIFFERENCE_SD, COST_LOG_SD, SD_WEIGHT = 1.0, 0.4, 2.0


@dataclass(frozen=True)
class Contribution:
    """One boat's contribution to a table. values: their meaning depends on the table's kind.

    FOUND: level, mean and spread expected before rounding, chance of trouble expected. CAUGHT,
    CLEARED: 1 or 0. DIFFERENCE: levels. COST: logarithm. Empty once its group stopped sharing.

    key: changes only if the group's own data about the boat change, not with the catalogue.
    Otherwise a new edition of the catalogue would make all data look new, and one group's new data
    could be published unnoticed.
    """

    key: str
    group: uuid.UUID
    cells: tuple[Cell, ...]
    values: tuple[float, ...]

    @classmethod
    def of(
        cls, boat: SharedBoat, cells: Sequence[Cell], values: Sequence[float], stated: object
    ) -> "Contribution":
        """A contribution. stated: the group's own data about the boat."""
        whole = repr((str(boat.id), str(boat.group), stated))
        return cls(
            key=hashlib.sha256(whole.encode()).hexdigest()[:24],
            group=boat.group,
            cells=tuple(cells),
            values=tuple(round(float(value), 9) for value in values),
        )


@dataclass(frozen=True)
class OutcomeTable:
    kind: Kind
    subject: str
    area: str
    contributions: tuple[Contribution, ...]


# --- What can be published -----------------------------------------------------------------------


def tables_of(shared: Shared) -> list[OutcomeTable]:
    """All tables with data, in a fixed order."""
    catalogue = shared.snapshot.catalogue
    by_checkpoint: dict[str, list[Surveyed]] = {}
    for one in shared.surveyed:
        by_checkpoint.setdefault(one.checkpoint, []).append(one)
    tables: list[OutcomeTable] = []
    for code, checkpoint in catalogue.checkpoints.items():
        tables += _of_checkpoint(checkpoint, by_checkpoint.get(code, []), catalogue.scales)
    by_remedy: dict[str, list[Contribution]] = {}
    for paid in bills_against_estimates(shared):
        boat = paid.boat
        cells = cells_of(boat.built_of, boat.age(paid.dated_on), ("hull_material", AGE))
        by_remedy.setdefault(paid.remedy, []).append(
            Contribution.of(boat, cells, [paid.log_ratio], stated=paid.bills)
        )
    tables += [
        OutcomeTable(Kind.COST, code, remedy.area, tuple(by_remedy.get(code, [])))
        for code, remedy in catalogue.remedies.items()
    ]
    return [table for table in tables if table.contributions]


def _of_checkpoint(
    checkpoint: CheckpointEntry, surveyed: list[Surveyed], scales: Mapping[str, ScaleEntry]
) -> Iterator[OutcomeTable]:
    counted: dict[Kind, list[Contribution]] = {}
    respects = divided_by(checkpoint)
    for one in surveyed:
        boat = one.boat
        cells = cells_of(boat.built_of, boat.age(one.seen_on), respects)
        for kind, values in _values(checkpoint, one, scales):
            made = Contribution.of(boat, cells, values, stated=values[0])
            counted.setdefault(kind, []).append(made)
    for kind in (Kind.FOUND, Kind.CAUGHT, Kind.CLEARED, Kind.DIFFERENCE):
        yield OutcomeTable(kind, checkpoint.code, checkpoint.area, tuple(counted.get(kind, [])))


def _values(
    checkpoint: CheckpointEntry, one: Surveyed, scales: Mapping[str, ScaleEntry]
) -> Iterator[tuple[Kind, tuple[float, ...]]]:
    yield Kind.FOUND, (float(one.level), *expected_of(checkpoint, one, scales))
    if not one.looks:
        return
    disclosed = max(one.looks) >= TROUBLE
    if one.level >= TROUBLE:
        yield Kind.CAUGHT, (float(disclosed),)
    else:
        yield Kind.CLEARED, (float(not disclosed),)
    yield Kind.DIFFERENCE, (sum(one.looks) / len(one.looks) - one.level,)


def expected_of(
    checkpoint: CheckpointEntry, one: Surveyed, scales: Mapping[str, ScaleEntry]
) -> tuple[float, float, float]:
    """The catalogue's expectation: mean and spread before rounding, and chance of a defect."""
    belief = checkpoint.belief
    ages = [ages_of(one.boat, one.seen_on)]
    age = part_ages(ages, [checkpoint])[0]
    ordinary = belief.mu + belief.age * (age - REFERENCE_AGE) / 10.0
    mean, sd = expected_over_care(ordinary, np.array([belief.care]), np.array([belief.sd]))
    by_year = levels_by_year(ages, [checkpoint], scales)[0]
    mean = np.maximum(mean, by_year)
    trouble = trouble_expected(mean, sd, broken_by(age, belief.breakage))
    return float(mean[0]), float(sd[0]), float(np.where(by_year >= TROUBLE, 1.0, trouble)[0])


# --- What may be published ----------------------------------------------------------------------


class ContributionStored(TypedDict):
    key: str
    group: Id
    cells: list[Cell]
    values: list[float]


class BasisStored(TypedDict):
    disclosed: list[Cell]
    boats: list[ContributionStored]


NOTHING: BasisStored = {"disclosed": [], "boats": []}


@dataclass(frozen=True)
class DisclosedTable:
    """The data behind a table's figures, and which of its sums were published last."""

    disclosed: tuple[Cell, ...] = ()
    contributions: tuple[Contribution, ...] = ()

    @classmethod
    def read(cls, stored: Mapping[str, Any]) -> "DisclosedTable | None":
        """The stored basis, or None if this version cannot read it. Then the published sums are
        unknown, and nothing new may be published.
        """
        basis = found(BasisStored, stored or NOTHING).value
        if basis is None:
            return None
        return cls(
            disclosed=tuple((by, value) for by, value in basis["disclosed"]),
            contributions=tuple(
                Contribution(
                    key=one["key"],
                    group=uuid.UUID(one["group"]),
                    cells=tuple((by, value) for by, value in one["cells"]),
                    values=tuple(one["values"]),
                )
                for one in basis["boats"]
            ),
        )

    def plain(self) -> dict[str, Any]:
        return {
            "disclosed": [list(cell) for cell in self.disclosed],
            "boats": [
                {
                    "key": one.key,
                    "group": str(one.group),
                    "cells": [list(cell) for cell in one.cells],
                    "values": list(one.values),
                }
                for one in self.contributions
            ],
        }

    @cached_property
    def groups(self) -> frozenset[uuid.UUID]:
        return frozenset(one.group for one in self.contributions)

    @cached_property
    def everything(self) -> frozenset[Contribution]:
        return frozenset(self.contributions)

    def behind(self, cell: Cell) -> list[Contribution]:
        return [one for one in self.contributions if cell in one.cells]

    def without_values_of(self, groups: Iterable[uuid.UUID]) -> "DisclosedTable":
        gone = frozenset(groups)
        kept = (replace(o, values=()) if o.group in gone else o for o in self.contributions)
        return replace(self, contributions=tuple(kept))


class Verdict(Enum):
    """The decision on a table: publish anew, leave, or withdraw."""

    DISCLOSE = "disclose"
    KEEP = "keep"
    WITHDRAW = "withdraw"


def judged(
    table: OutcomeTable,
    before: DisclosedTable,
    contributor: Mapping[uuid.UUID, int],
    *,
    standing: bool,
) -> tuple[Verdict, DisclosedTable]:
    """The decision on a table. standing: whether its last figures are still published."""
    now = DisclosedTable((ALL,), table.contributions)
    if standing and now.everything == before.everything:
        return Verdict.KEEP, before
    disclosed = may_disclose(now, before, contributor)
    if disclosed:
        return Verdict.DISCLOSE, replace(now, disclosed=disclosed)
    left = before.groups - contributor.keys()
    if standing and not left:
        return Verdict.KEEP, before
    return Verdict.WITHDRAW, before.without_values_of(left)


def may_disclose(
    now: DisclosedTable, before: DisclosedTable, contributor: Mapping[uuid.UUID, int]
) -> tuple[Cell, ...]:
    """The sums that may be published, all boats first; none if that sum may not."""
    if not now.contributions:
        return ()
    columns = {one.key: one for one in (*before.contributions, *now.contributions)}
    place = {key: n for n, key in enumerate(columns)}
    # Each group that left counts as its own party.
    left = sorted(before.groups - contributor.keys())
    contributors = {**contributor, **{group: len(contributor) + n for n, group in enumerate(left)}}
    owner: Ints = np.array([contributors[one.group] for one in columns.values()], dtype=np.intp)

    def row(basis: DisclosedTable, cell: Cell) -> Bools:
        over = np.zeros(len(columns), dtype=np.bool_)
        over[[place[one.key] for one in basis.behind(cell)]] = True
        return over

    def width(cell: Cell) -> tuple[bool, int, int, Cell]:
        behind = now.behind(cell)
        contributors_behind = {contributors[one.group] for one in behind}
        return cell != ALL, -len(contributors_behind), -len(behind), cell

    cells = sorted({cell for one in now.contributions for cell in one.cells}, key=width)
    disclosed = np.array([row(before, cell) for cell in before.disclosed]).reshape(-1, len(columns))
    may = may_be_disclosed(np.array([row(now, cell) for cell in cells]), owner, disclosed)
    if not may[0]:
        return ()
    return tuple(cell for cell, one in zip(cells, may, strict=True) if one)


# --- The figures ---------------------------------------------------------------------------------


def figure_of(kind: str, behind: Sequence[Contribution]) -> tuple[Estimated, float | None]:
    """The figure of some boats, and the catalogue's expectation, if it has one."""
    first = [one.values[0] for one in behind]
    match kind:
        case Kind.FOUND:
            bad = sum(level >= TROUBLE for level in first)
            expected = math.fsum(one.values[3] for one in behind) / len(behind)
            return share_of(bad, len(behind)), expected
        case Kind.CAUGHT | Kind.CLEARED:
            return share_of(round(sum(first)), len(behind)), None
        case Kind.DIFFERENCE:
            return mean_of(first, prior_sd=DIFFERENCE_SD, prior_weight=SD_WEIGHT), None
        case _:
            return ratio_of(first, prior_sd=COST_LOG_SD, prior_weight=SD_WEIGHT), None
