"""Reads of a club's published statistics, never of the data behind them."""

import uuid
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from apps.accounts.models import Person
from apps.catalogue.selectors import club_snapshot
from apps.catalogue.snapshot import Catalogue
from apps.groups.rules import ClubAction, require_in_club
from apps.http.warnings import warned
from apps.outcomes import sentences
from apps.outcomes.kinds import ALL, Cell, words_of
from apps.outcomes.models import ClubOutcomes, OutcomesFigure, OutcomesTable
from apps.outcomes.services import METHOD

Json = dict[str, Any]
Kind = OutcomesTable.Kind
OF_CHECKPOINTS = (Kind.FOUND, Kind.CAUGHT, Kind.CLEARED, Kind.DIFFERENCE)


def outcomes_read(
    person: Person,
    club_id: uuid.UUID,
    *,
    kind: Cell = ALL,
    area: str = "",
    checkpoint: str = "",
) -> Json:
    """The published figures of all boats or of one kind. Always five queries.

    kind: a property and its value. area: of the boat.
    """
    club = require_in_club(person, ClubAction.READ, club_id).club
    club_outcomes = ClubOutcomes.objects.filter(pk=club_id).first()
    catalogue = club_snapshot(club_id).catalogue
    figures = _figures_of(club_id, kind, area, checkpoint)
    checkpoints = [
        {
            "checkpoint": code,
            "title": one.title,
            "area": one.area,
            "judged_by": one.professional,
            **_disclosed(figures, code, kind, OF_CHECKPOINTS),
        }
        for code, one in catalogue.checkpoints.items()
        if code in figures
    ]
    remedies = [
        {
            "remedy": code,
            "title": remedy.title,
            "area": remedy.area,
            **_disclosed(figures, code, kind, (Kind.COST,)),
        }
        for code, remedy in catalogue.remedies.items()
        if (Kind.COST, code) in _tables(figures)
    ]
    return {
        "club": {"id": str(club.pk), "name": club.name},
        "computed_at": club_outcomes.computed_at if club_outcomes else None,
        "method": club_outcomes.method if club_outcomes else METHOD,
        "caution": sentences.CAUTION,
        "warnings": (
            [warned("older_method", sentences.OLDER_METHOD)]
            if club_outcomes and club_outcomes.method != METHOD
            else []
        ),
        "boats_shown": {"by": kind[0], "value": kind[1], "words": words_of(*kind)},
        "areas": _areas(catalogue, checkpoints),
        "checkpoints": checkpoints,
        "remedies": remedies,
        "sentences": sentences.of_outcomes(checkpoints, remedies),
    }


Figures = Mapping[str, Mapping[Cell, Mapping[str, OutcomesFigure]]]


def _figures_of(club_id: uuid.UUID, kind: Cell, area: str, checkpoint: str) -> Figures:
    """Figures by subject, kind of boats and kind of table. One query."""
    rows: QuerySet[OutcomesFigure] = OutcomesFigure.objects.filter(table__club=club_id)
    if kind != ALL:
        rows = rows.filter(by=kind[0], value=kind[1])
    if area:
        rows = rows.filter(table__area=area)
    if checkpoint:
        rows = rows.filter(table__subject=checkpoint).exclude(table__kind=Kind.COST)
    figures: dict[str, dict[Cell, dict[str, OutcomesFigure]]] = {}
    # The data behind the figures is large and not read here.
    for row in rows.select_related("table").defer("table__basis").order_by("pk"):
        by_cell = figures.setdefault(row.table.subject, {})
        by_cell.setdefault((row.by, row.value), {})[row.table.kind] = row
    return figures


def _tables(figures: Figures) -> set[tuple[str, str]]:
    return {
        (kind, subject)
        for subject, by_cell in figures.items()
        for kinds in by_cell.values()
        for kind in kinds
    }


def _disclosed(figures: Figures, code: str, kind: Cell, kinds: Sequence[Kind]) -> Json:
    """The figures of the boats asked for; for all boats, also of each kind."""
    by_cell = figures[code]
    disclosed = _disclosed_rows(by_cell.get(kind, {}), kinds)
    if kind != ALL:
        return disclosed
    divided = [
        {
            "by": by,
            "value": value,
            "words": words_of(by, value),
            **_disclosed_rows(by_cell[by, value], kinds),
        }
        for by, value in sorted(by_cell)
        if (by, value) != ALL and any(one in by_cell[by, value] for one in kinds)
    ]
    return {**disclosed, "divided": divided}


def _disclosed_rows(by_kind: Mapping[str, OutcomesFigure], kinds: Iterable[Kind]) -> Json:
    return {kind.value: figure_serialized(by_kind.get(kind)) for kind in kinds}


def figure_serialized(figure: OutcomesFigure | None) -> Json | None:
    if figure is None:
        return None
    disclosed_at: datetime = figure.table.disclosed_at
    serialized = {
        "figure": round(figure.figure, 3),
        "low": round(figure.low, 3),
        "high": round(figure.high, 3),
        "groups": figure.groups,
        "boats": figure.boats,
        "disclosed_at": disclosed_at,
    }
    if figure.table.kind == Kind.FOUND:
        serialized["expected"] = None if figure.expected is None else round(figure.expected, 3)
    return serialized


def _areas(catalogue: Catalogue, checkpoints: Sequence[Json]) -> list[Json]:
    """Sums of published figures only, so they reveal nothing more."""
    found: dict[str, list[Json]] = {}
    for one in checkpoints:
        if one["found"]:
            found.setdefault(one["area"], []).append(one["found"])
    return [
        {
            "area": code,
            "title": area.title,
            "checkpoints": len(found[code]),
            "looks": (looks := sum(one["boats"] for one in found[code])),
            "groups": max(one["groups"] for one in found[code]),
            "share": _mean(found[code], "figure", looks),
            "expected": _mean(found[code], "expected", looks),
        }
        for code, area in catalogue.areas.items()
        if code in found
    ]


def _mean(figures: Sequence[Json], name: str, looks: int) -> float | None:
    known = [one[name] * one["boats"] for one in figures if one[name] is not None]
    return round(float(sum(known)) / looks, 3) if len(known) == len(figures) else None
