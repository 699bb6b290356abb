"""Keeps a club's statistics, and the adjustments of its groups, up to date.

They are computed outside any transaction and stored in one. A group that stops sharing loses its
adjustments at once, and every figure that rests on its data is removed in the same transaction.
"""

import logging
import uuid
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from apps.boats import revisions
from apps.boats.revisions import group_inputs_changed
from apps.catalogue.snapshot import Snapshot
from apps.common.digests import digest_of
from apps.groups.models import Club, Group
from apps.outcomes.feeding import fed, outcomes_figures
from apps.outcomes.gathering import Shared, parties_of, shared_in, sharing_groups
from apps.outcomes.messages import send_refresh
from apps.outcomes.models import ClubOutcomes, GroupOutcomes, OutcomesFigure, OutcomesTable
from apps.outcomes.tables import DisclosedTable, OutcomeTable, Verdict, figure_of, judged, tables_of

log = logging.getLogger(__name__)

# Increased whenever the same data would give other figures.
METHOD = "1"
# A smaller change does not recompute the group's lists: a fiftieth of a level, or of a price.
TOLERANCE = 0.02


def clubs_with_outcomes() -> list[uuid.UUID]:
    """Clubs in which a group shares, or whose statistics contain earlier shared data."""
    either = Q(groups__shares_surveys=True) | Q(club_outcomes__isnull=False)
    return list(Club.objects.filter(either).distinct().order_by("pk").values_list("pk", flat=True))


@dataclass(frozen=True)
class RefreshTurn:
    """The result of one refresh of a club, in numbers of tables and groups.

    superseded: nothing was stored, because the sharing groups changed meanwhile or another worker
    was quicker.
    """

    disclosed: int = 0
    kept: int = 0
    withdrawn: int = 0
    given: int = 0
    superseded: bool = False


def club_outcomes_refresh(*, club_id: uuid.UUID) -> RefreshTurn:
    """Compute the club's statistics if their inputs have changed."""
    before = digest_stored(club_id)
    shared = shared_in(club_id)
    tables = tables_of(shared)
    digest = inputs_digest(shared, tables)
    if digest == before:
        return RefreshTurn()
    stored = {(t.kind, t.subject): t for t in OutcomesTable.objects.filter(club=club_id)}
    standing = _standing(club_id)
    judgements = [
        (table, old, *judged(table, basis, shared.contributor, standing=old.pk in standing))
        for table in [*tables, *_vanished(tables, stored.values())]
        for old in [stored.get((table.kind, table.subject)) or _new(club_id, table)]
        # New figures cannot be audited against the last published ones then, so those stay.
        if (basis := _basis_of(old)) is not None
    ]
    given = _given(shared, judgements, standing)
    return outcomes_store(
        shared=shared, before=before, digest=digest, judgements=judgements, given=given
    )


Judgement = tuple[OutcomeTable, OutcomesTable, Verdict, DisclosedTable]


def _basis_of(table: OutcomesTable) -> DisclosedTable | None:
    basis = DisclosedTable.read(table.basis)
    if basis is None:
        log.error("what %s of club %s rests on cannot be read", table, table.club_id)
    return basis


def _standing(club_id: uuid.UUID) -> frozenset[int]:
    figures = OutcomesFigure.objects.filter(table__club=club_id)
    return frozenset(figures.values_list("table_id", flat=True))


def _new(club_id: uuid.UUID, table: OutcomeTable) -> OutcomesTable:
    return OutcomesTable(club_id=club_id, kind=table.kind, subject=table.subject, area=table.area)


def _vanished(
    tables: Sequence[OutcomeTable], stored: Iterable[OutcomesTable]
) -> list[OutcomeTable]:
    """Published tables that no longer have any data."""
    there = {(table.kind, table.subject) for table in tables}
    return [
        OutcomeTable(OutcomesTable.Kind(old.kind), old.subject, old.area, ())
        for old in stored
        if (old.kind, old.subject) not in there
    ]


def _given(
    shared: Shared, judgements: Sequence[Judgement], standing: frozenset[int]
) -> dict[uuid.UUID, tuple[dict[str, Any], dict[str, Any]]]:
    disclosed = [
        (old, basis)
        for _, old, verdict, basis in judgements
        if verdict is Verdict.DISCLOSE or (verdict is Verdict.KEEP and old.pk in standing)
    ]
    catalogue = shared.snapshot.catalogue
    return {
        group: fed(disclosed, group, shared.contributor, catalogue) for group in shared.contributor
    }


def digest_stored(club_id: uuid.UUID) -> str | None:
    """The digest of the inputs of the last computation; None if there was none."""
    return ClubOutcomes.objects.filter(pk=club_id).values_list("digest", flat=True).first()


def inputs_digest(shared: Shared, tables: Sequence[OutcomeTable]) -> str:
    contributors = {str(group): number for group, number in shared.contributor.items()}
    stated = [(one.kind, one.subject, [asdict(c) for c in one.contributions]) for one in tables]
    return digest_of([METHOD, shared.snapshot.editions, contributors, stated])


# --- What is stored ------------------------------------------------------------------------------


@transaction.atomic
def outcomes_store(
    *,
    shared: Shared,
    before: str | None,
    digest: str,
    judgements: Sequence[Judgement],
    given: Mapping[uuid.UUID, tuple[dict[str, Any], dict[str, Any]]],
) -> RefreshTurn:
    """Store the statistics, unless the sharing groups or their common persons changed meanwhile, or
    other figures were published since `before`, against which these were not audited.
    """
    list(Group.objects.select_for_update().filter(club=shared.club_id).values_list("pk"))
    others = parties_of(sharing_groups(shared.club_id)) != shared.contributor
    if others or digest_stored(shared.club_id) != before:
        return RefreshTurn(superseded=True)
    now = timezone.now()
    counts = dict.fromkeys(Verdict, 0)
    for table, old, verdict, basis in judgements:
        silent = verdict is Verdict.WITHDRAW and basis == DisclosedTable.read(old.basis)
        if silent:  # it was not published before either
            continue
        counts[verdict] += 1
        if verdict is Verdict.KEEP:
            continue
        old.basis, old.area, old.disclosed_at = basis.plain(), table.area, now
        old.save()
        old.figures.all().delete()
        if verdict is Verdict.DISCLOSE:
            OutcomesFigure.objects.bulk_create(_figures(old, basis))
    ClubOutcomes.objects.filter(pk=shared.club_id).delete()
    if shared.contributor:
        ClubOutcomes.objects.create(
            club_id=shared.club_id,
            digest=digest,
            edition=shared.snapshot.edition,
            club_edition=shared.snapshot.club_edition,
            method=METHOD,
            computed_at=now,
        )
    moved = [
        adjustments_store(group_id=group, snapshot=shared.snapshot, shifts=shifts, factors=factors)
        for group, (shifts, factors) in given.items()
    ]
    for group in GroupOutcomes.objects.filter(group__club=shared.club_id).exclude(group__in=given):
        adjustments_delete(group_id=group.pk)
    return RefreshTurn(
        disclosed=counts[Verdict.DISCLOSE],
        kept=counts[Verdict.KEEP],
        withdrawn=counts[Verdict.WITHDRAW],
        given=sum(moved),
    )


def _figures(table: OutcomesTable, basis: DisclosedTable) -> list[OutcomesFigure]:
    figures = []
    for by, value in basis.disclosed:
        behind = basis.behind((by, value))
        estimated, expected = figure_of(table.kind, behind)
        figures.append(
            OutcomesFigure(
                table=table,
                by=by,
                value=value,
                groups=len({one.group for one in behind}),
                boats=len(behind),
                figure=estimated.value,
                low=estimated.low,
                high=estimated.high,
                expected=expected,
            )
        )
    return figures


@transaction.atomic
def adjustments_store(
    *, group_id: uuid.UUID, snapshot: Snapshot, shifts: dict[str, Any], factors: dict[str, Any]
) -> bool:
    """Store the group's adjustments. Returns whether its lists are out of date."""
    if not shifts and not factors:
        return adjustments_delete(group_id=group_id)
    behind = [*shifts.values(), *factors.values()]
    club_outcomes = GroupOutcomes(
        group_id=group_id,
        edition=snapshot.edition,
        club_edition=snapshot.club_edition,
        method=METHOD,
        computed_at=timezone.now(),
        groups=max(one["groups"] for one in behind),
        boats=max(one["boats"] for one in behind),
        shifts=shifts,
        factors=factors,
    )
    stored = GroupOutcomes.objects.filter(pk=group_id).first()
    if stored is not None and not moved(stored, club_outcomes):
        return False
    GroupOutcomes.objects.filter(pk=group_id).delete()
    club_outcomes.save(force_insert=True)
    group_inputs_changed(
        group_id,
        "club_outcomes.given",
        "group_outcomes",
        groups=club_outcomes.groups,
        boats=club_outcomes.boats,
    )
    return True


@transaction.atomic
def adjustments_delete(*, group_id: uuid.UUID) -> bool:
    """Remove the group's adjustments. Returns whether there were any."""
    taken, _ = GroupOutcomes.objects.filter(pk=group_id).delete()
    if taken:
        group_inputs_changed(group_id, "club_outcomes.taken", "group_outcomes", deleted=True)
    return bool(taken)


def moved(before: GroupOutcomes, after: GroupOutcomes) -> bool:
    """Whether the adjustments changed enough, or belong to another edition."""
    return revisions.moved(
        before,
        after,
        same=("edition", "club_edition", "method"),
        figures=_moving,
        tolerance=TOLERANCE,
    )


def _moving(club_outcomes: GroupOutcomes) -> dict[Hashable, float] | None:
    figures = outcomes_figures(club_outcomes)
    if figures is None:
        return None
    return {
        **{
            ("shift", code, by, value): shift
            for code, one in figures["shifts"].items()
            for by, value, shift in one["by_kind"]
        },
        **{
            ("factor", code, name): amount
            for code, one in figures["factors"].items()
            for name, amount in (("median", one["median"]), ("spread", one["spread"]))
        },
    }


# --- Who stops sharing ---------------------------------------------------------------------------


@transaction.atomic
def sharing_end(*, group_id: uuid.UUID, club_id: uuid.UUID) -> None:
    """Remove the group's values and the figures that rest on them; the rest is recomputed soon."""
    adjustments_delete(group_id=group_id)
    for table in OutcomesTable.objects.filter(club=club_id):
        basis = _basis_of(table)
        if basis is None:  # its data may be behind any figure
            table.figures.all().delete()
        elif group_id in basis.groups:
            table.basis, table.disclosed_at = (
                basis.without_values_of([group_id]).plain(),
                timezone.now(),
            )
            table.save(update_fields=["basis", "disclosed_at"])
            table.figures.all().delete()
    ClubOutcomes.objects.filter(pk=club_id).update(digest="")
    transaction.on_commit(lambda: send_refresh(club_id), robust=True)
