"""Adjustments of a group's lists from the club's statistics: base rates and prices.

They come from the figures published to the club, without the group's own boats, which its lists
already contain. At least three other groups are behind each.
"""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypedDict

import numpy as np

from apps.catalogue.snapshot import Catalogue, Snapshot
from apps.common.shapes import Entries, found
from apps.outcomes.estimates import job_of
from apps.outcomes.kinds import Cell, cells_of
from apps.outcomes.models import GroupOutcomes, OutcomesTable
from apps.outcomes.tables import Contribution, DisclosedTable
from apps.reckoning.disclosure import FEWEST
from apps.reckoning.outcomes import (
    CostFactor,
    Triggers,
    cost_factor,
    level_shifts,
    log_spread,
    monotone_medians,
)
from apps.reckoning.pricing import Rates, Size, price_jobs
from apps.reckoning.work import Prices


@dataclass(frozen=True)
class Shift:
    """A shift of one checkpoint's mean level, in levels; a boat gets the sum over its kinds."""

    by_kind: Mapping[Cell, float]
    groups: int
    boats: int

    def of(self, built_of: Mapping[str, str], age: float | None) -> float:
        respects = tuple(dict.fromkeys(by for by, _ in self.by_kind if by))
        return sum(self.by_kind.get(cell, 0.0) for cell in cells_of(built_of, age, respects))


@dataclass(frozen=True)
class Factor:
    """A factor on one remedy's price."""

    cost: CostFactor
    groups: int
    boats: int


@dataclass(frozen=True)
class ClubExperience:
    """The club's statistics as one group's lists use them."""

    shifts: Mapping[str, Shift]
    factors: Mapping[str, Factor]
    groups: int
    boats: int
    computed_at: datetime


def outcomes_for(group_id: uuid.UUID, snapshot: Snapshot) -> ClubExperience | None:
    """The group's stored adjustments, if they belong to the club's present catalogue. One query."""
    stored = GroupOutcomes.objects.filter(
        pk=group_id,
        edition=snapshot.edition,
        club_edition=snapshot.club_edition,
        group__shares_surveys=True,
    ).first()
    figures = None if stored is None else outcomes_figures(stored)
    return None if stored is None or figures is None else outcomes_of(stored, figures, snapshot)


class ShiftFigures(TypedDict):
    by_kind: list[tuple[str, str, float]]
    groups: int
    boats: int


class FactorFigures(TypedDict):
    median: float
    spread: float
    groups: int
    boats: int


class OutcomesFigures(TypedDict):
    """A group's adjustments as stored JSON."""

    shifts: Entries[ShiftFigures]
    factors: Entries[FactorFigures]


def outcomes_figures(club_outcomes: GroupOutcomes) -> OutcomesFigures | None:
    """The readable adjustments, where an earlier version of the service stored them.

    The lists then do without the others until the club's statistics are computed again.
    """
    return found(
        OutcomesFigures, {"shifts": club_outcomes.shifts, "factors": club_outcomes.factors}
    ).value


def outcomes_of(
    stored: GroupOutcomes, figures: OutcomesFigures, snapshot: Snapshot
) -> ClubExperience:
    """The adjustments, without entries that the group has its own words or prices for."""
    own_checkpoints, own_remedies = (
        snapshot.stated_by("group", kind) for kind in ("checkpoints", "remedies")
    )
    return ClubExperience(
        shifts={
            code: Shift(
                by_kind={(by, value): shift for by, value, shift in one["by_kind"]},
                groups=one["groups"],
                boats=one["boats"],
            )
            for code, one in figures["shifts"].items()
            if code not in own_checkpoints
        },
        factors={
            code: Factor(CostFactor(one["median"], one["spread"]), one["groups"], one["boats"])
            for code, one in figures["factors"].items()
            if code not in own_remedies
        },
        groups=stored.groups,
        boats=stored.boats,
        computed_at=stored.computed_at,
    )


# --- Working it out ------------------------------------------------------------------------------


def fed(
    tables: Sequence[tuple[OutcomesTable, DisclosedTable]],
    group: uuid.UUID,
    contributor: Mapping[uuid.UUID, int],
    catalogue: Catalogue,
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Shifts by checkpoint and factors by remedy, as stored; empty if there are none.

    tables: the published ones.
    """
    shifts, paid = {}, {}
    for table, basis in tables:
        others = _others(basis, group, contributor)
        behind = {contributor[one.group] for one in others}
        if len(behind) < FEWEST:
            continue
        counts = {"groups": len({one.group for one in others}), "boats": len(others)}
        if table.kind == OutcomesTable.Kind.FOUND and table.subject in catalogue.checkpoints:
            shifts[table.subject] = {
                **counts,
                "by_kind": _shifts(others, basis.disclosed, contributor),
            }
        if table.kind == OutcomesTable.Kind.COST and table.subject in catalogue.remedies:
            paid[table.subject] = ([one.values[0] for one in others], counts)
    return shifts, _factors(paid, catalogue)


def _others(
    basis: DisclosedTable, group: uuid.UUID, contributor: Mapping[uuid.UUID, int]
) -> list[Contribution]:
    own = contributor[group]
    return [one for one in basis.contributions if contributor.get(one.group, own) != own]


def _shifts(
    others: Sequence[Contribution], disclosed: Sequence[Cell], contributor: Mapping[uuid.UUID, int]
) -> list[list[Any]]:
    """Shifts only for kinds of boats with published figures and at least three other groups."""
    kinds = [
        cell
        for cell in disclosed
        if len({contributor[one.group] for one in others if cell in one.cells}) >= FEWEST
    ]
    shifts = level_shifts(
        np.array([one.values[0] for one in others], dtype=np.intp),
        np.array([one.values[1] for one in others]),
        np.array([one.values[2] for one in others]),
        np.array([[cell in one.cells for cell in kinds] for one in others], dtype=np.bool_),
    )
    return [[*cell, round(float(shift), 4)] for cell, shift in zip(kinds, shifts, strict=True)]


def _factors(
    paid: Mapping[str, tuple[list[float], dict[str, int]]], catalogue: Catalogue
) -> dict[str, Any]:
    """Factors that never make a worse level cheaper (`monotone_medians`)."""
    if not paid:
        return {}
    codes = list(catalogue.remedies)
    prices = reference_prices(catalogue)
    spread = log_spread(prices)
    factors = {
        code: cost_factor(log_ratios, float(spread[codes.index(code)]))
        for code, (log_ratios, _) in paid.items()
    }
    medians = np.array([factors[code].median if code in factors else 1.0 for code in codes])
    medians = monotone_medians(medians, prices.mean, triggers_of(catalogue))
    return {
        code: {
            "median": round(float(medians[codes.index(code)]), 4),
            "spread": round(factor.spread, 4),
            **paid[code][1],
        }
        for code, factor in factors.items()
    }


def reference_prices(catalogue: Catalogue) -> Prices:
    """Prices of all remedies for the reference boat, at the catalogue's own rates."""
    size = Size(catalogue.money.basis.reference_loa_m)
    rates = Rates(yard_hour=catalogue.money.yard_rate.likely)
    return price_jobs([job_of(one) for one in catalogue.remedies.values()], size, rates).prices


def triggers_of(catalogue: Catalogue) -> Triggers:
    """The remedies that the levels of all checkpoints require."""
    place = {code: k for k, code in enumerate(catalogue.remedies)}
    links = [
        (j, place[trigger.code], np.array(trigger.probability) * np.array(trigger.extent))
        for j, checkpoint in enumerate(catalogue.checkpoints.values())
        for trigger in checkpoint.remedies
        if trigger.code in place
    ]
    return Triggers(
        checkpoint=np.array([link[0] for link in links], dtype=np.intp),
        remedy=np.array([link[1] for link in links], dtype=np.intp),
        weight=np.array([link[2] for link in links]).reshape(-1, 5),
    )
