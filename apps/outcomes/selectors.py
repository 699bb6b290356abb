"""Reads of a club's published statistics, never of the data behind them."""

import uuid
from collections.abc import Iterable, Mapping, Sequence

from django.db.models import QuerySet

from apps.accounts.models import Person
from apps.catalogue.content import CheckpointEntry, RemedyEntry
from apps.catalogue.selectors import club_snapshot
from apps.catalogue.snapshot import Catalogue
from apps.groups.rules import ClubAction, require_in_club
from apps.http.warnings import warned
from apps.outcomes import sentences
from apps.outcomes.answer import (
    AreaOutcomes,
    BoatsShown,
    CheckpointFigures,
    CheckpointOutcomes,
    FigureRead,
    OutcomesRead,
    RemedyFigures,
    RemedyOutcomes,
)
from apps.outcomes.kinds import ALL, Cell, words_of
from apps.outcomes.models import ClubOutcomes, OutcomesFigure, OutcomesTable
from apps.outcomes.services import METHOD

Kind = OutcomesTable.Kind
OF_CHECKPOINTS = (Kind.FOUND, Kind.CAUGHT, Kind.CLEARED, Kind.DIFFERENCE)


def outcomes_read(
    person: Person,
    club_id: uuid.UUID,
    *,
    kind: Cell = ALL,
    area: str = "",
    checkpoint: str = "",
) -> OutcomesRead:
    """The published figures of all boats or of one kind. Always five queries.

    kind: a property and its value. area: of the boat.
    """
    club = require_in_club(person, ClubAction.READ, club_id).club
    club_outcomes = ClubOutcomes.objects.filter(pk=club_id).first()
    catalogue = club_snapshot(club_id).catalogue
    figures = _figures_of(club_id, kind, area, checkpoint)
    checkpoints = [
        _checkpoint(one, figures[code], kind)
        for code, one in catalogue.checkpoints.items()
        if code in figures
    ]
    remedies = [
        _remedy(one, figures[code], kind)
        for code, one in catalogue.remedies.items()
        if any(Kind.COST in kinds for kinds in figures.get(code, {}).values())
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
        "boats_shown": _boats_shown(kind),
        "areas": _areas(catalogue, checkpoints),
        "checkpoints": checkpoints,
        "remedies": remedies,
        "sentences": sentences.of_outcomes(checkpoints, remedies),
    }


ByCell = Mapping[Cell, Mapping[str, OutcomesFigure]]
Figures = Mapping[str, ByCell]


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


def _checkpoint(one: CheckpointEntry, by_cell: ByCell, kind: Cell) -> CheckpointOutcomes:
    """The figures of the boats asked for; for all boats, also of each kind."""
    row: CheckpointOutcomes = {
        "checkpoint": one.code,
        "title": one.title,
        "area": one.area,
        "judged_by": one.professional,
        "divided": [
            {**_boats_shown(cell), **_of_checkpoint(by_cell[cell])}
            for cell in _kinds_of(by_cell, OF_CHECKPOINTS)
        ],
        **_of_checkpoint(by_cell.get(kind, {})),
    }
    if kind != ALL:  # one kind is not divided further
        del row["divided"]
    return row


def _remedy(one: RemedyEntry, by_cell: ByCell, kind: Cell) -> RemedyOutcomes:
    row: RemedyOutcomes = {
        "remedy": one.code,
        "title": one.title,
        "area": one.area,
        "divided": [
            {**_boats_shown(cell), **_of_remedy(by_cell[cell])}
            for cell in _kinds_of(by_cell, (Kind.COST,))
        ],
        **_of_remedy(by_cell.get(kind, {})),
    }
    if kind != ALL:  # one kind is not divided further
        del row["divided"]
    return row


def _kinds_of(by_cell: ByCell, kinds: Iterable[Kind]) -> list[Cell]:
    """The kinds of boats with a figure of one of these tables."""
    return [
        cell
        for cell in sorted(by_cell)
        if cell != ALL and not by_cell[cell].keys().isdisjoint(kinds)
    ]


def _boats_shown(cell: Cell) -> BoatsShown:
    return {"by": cell[0], "value": cell[1], "words": words_of(*cell)}


def _of_checkpoint(by_kind: Mapping[str, OutcomesFigure]) -> CheckpointFigures:
    return {
        "found": figure_serialized(by_kind.get(Kind.FOUND)),
        "caught": figure_serialized(by_kind.get(Kind.CAUGHT)),
        "cleared": figure_serialized(by_kind.get(Kind.CLEARED)),
        "difference": figure_serialized(by_kind.get(Kind.DIFFERENCE)),
    }


def _of_remedy(by_kind: Mapping[str, OutcomesFigure]) -> RemedyFigures:
    return {"cost": figure_serialized(by_kind.get(Kind.COST))}


def figure_serialized(figure: OutcomesFigure | None) -> FigureRead | None:
    if figure is None:
        return None
    serialized: FigureRead = {
        "figure": round(figure.figure, 3),
        "low": round(figure.low, 3),
        "high": round(figure.high, 3),
        "groups": figure.groups,
        "boats": figure.boats,
        "disclosed_at": figure.table.disclosed_at,
    }
    if figure.table.kind == Kind.FOUND:
        serialized["expected"] = None if figure.expected is None else round(figure.expected, 3)
    return serialized


def _areas(catalogue: Catalogue, checkpoints: Sequence[CheckpointOutcomes]) -> list[AreaOutcomes]:
    """Sums of published figures only, so they reveal nothing more."""
    found: dict[str, list[FigureRead]] = {}
    for one in checkpoints:
        if one["found"]:
            found.setdefault(one["area"], []).append(one["found"])
    return [
        {
            "area": code,
            "title": area.title,
            "checkpoints": len(found[code]),
            "looks": sum(one["boats"] for one in found[code]),
            "groups": max(one["groups"] for one in found[code]),
            "share": _mean([(one["figure"], one["boats"]) for one in found[code]]),
            "expected": _mean([(one["expected"], one["boats"]) for one in found[code]]),
        }
        for code, area in catalogue.areas.items()
        if code in found
    ]


def _mean(figures: Sequence[tuple[float | None, int]]) -> float | None:
    """figures: each with the number of its boats. None if one is not known."""
    known = [(figure * boats, boats) for figure, boats in figures if figure is not None]
    if len(known) < len(figures):
        return None
    return round(sum(part for part, _ in known) / sum(boats for _, boats in known), 3)
