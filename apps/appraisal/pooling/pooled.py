"""What a group's club knows in addition to the catalogue, as plain inputs of a list."""

import uuid
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from datetime import datetime
from typing import TypedDict

import numpy as np

from apps.appraisal.models import GroupPool
from apps.appraisal.stored.parts import OutcomesUsed, Priors
from apps.catalogue.snapshot import Snapshot
from apps.common.shapes import Entries, found
from apps.outcomes.feeding import ClubExperience
from apps.reckoning.grader_priors import GraderPriors, member_prior
from apps.reckoning.typical import KindFigure, Typical


class GraderFigures(TypedDict):
    lean_mean: float
    lean_sd: float
    log_spread_mean: float
    log_spread_sd: float


@dataclass(frozen=True, slots=True)
class KnownGrader:
    """A grader as known from other groups' lists: b ~ N(mean, sd^2), ln s ~ N(mean, sd^2).

    Levels, and natural log of levels (`reckoning.graders`).
    """

    lean_mean: float
    lean_sd: float
    log_spread_mean: float
    log_spread_sd: float

    @classmethod
    def at(cls, r: int, priors: GraderPriors) -> "KnownGrader":
        """The r-th of these priors."""
        return cls(*(float(getattr(priors, field.name)[r]) for field in fields(cls)))

    @classmethod
    def of(cls, stored: GraderFigures) -> "KnownGrader":
        return cls(
            lean_mean=stored["lean_mean"],
            lean_sd=stored["lean_sd"],
            log_spread_mean=stored["log_spread_mean"],
            log_spread_sd=stored["log_spread_sd"],
        )

    def prior(self) -> GraderPriors:
        known = {name: np.array([value]) for name, value in asdict(self).items()}
        return replace(member_prior(), **known)


class KindFigureShape(TypedDict):
    mean: float
    sd: float
    between: float


class SellersFigures(TypedDict):
    lean: KindFigureShape
    log_spread: KindFigureShape


def typical_of(stored: SellersFigures) -> Typical:
    return Typical(KindFigure(**stored["lean"]), KindFigure(**stored["log_spread"]))


@dataclass(frozen=True)
class Pooled:
    """The priors from the other groups of the club, and how much data they come from.

    care_prior: of the three care classes. mu: by checkpoint code, only where it differs from the
    catalogue's. graders: by person, only people of the receiving group. sellers: how those who sell
    lean; None if too few groups know.
    """

    care_prior: tuple[float, ...]
    mu: Mapping[str, float]
    graders: Mapping[uuid.UUID, KnownGrader]
    groups: int
    boats: int
    computed_at: datetime
    sellers: Typical | None = None


def pooled_for(group_id: uuid.UUID, snapshot: Snapshot) -> Pooled | None:
    """The pool stored for the group, if it fits the club's present catalogue. One query."""
    stored = GroupPool.objects.filter(
        pk=group_id,
        edition=snapshot.edition,
        club_edition=snapshot.club_edition,
        group__pools_with_club=True,
    ).first()
    figures = None if stored is None else pool_figures(stored)
    return None if stored is None or figures is None else pooled_of(stored, figures, snapshot)


class PoolFigures(TypedDict):
    """A pool's values in JSON."""

    care_prior: tuple[float, float, float]
    mu: Entries[float]
    graders: Entries[GraderFigures]
    sellers: SellersFigures | None


def pool_figures(pool: GroupPool) -> PoolFigures | None:
    """None if an earlier version of the service stored them in a form that cannot be read.

    The lists are then computed with the catalogue alone until the club is pooled again.
    """
    stored = {"care_prior": pool.care_prior, "mu": pool.mu, "graders": pool.graders}
    stored["sellers"] = pool.sellers
    return found(PoolFigures, stored).value


def pooled_of(stored: GroupPool, figures: PoolFigures, snapshot: Snapshot) -> Pooled:
    """The pool without checkpoints that the group words otherwise than those who were pooled."""
    own = snapshot.stated_by("group", "checkpoints")
    return Pooled(
        care_prior=tuple(figures["care_prior"]),
        mu={code: mu for code, mu in figures["mu"].items() if code not in own},
        graders={
            uuid.UUID(person): KnownGrader.of(known) for person, known in figures["graders"].items()
        },
        groups=stored.groups,
        boats=stored.boats,
        computed_at=stored.computed_at,
        sellers=None if figures["sellers"] is None else typical_of(figures["sellers"]),
    )


def priors_serialized(pooled: Pooled | None) -> Priors:
    """Source of the priors, as answers give it."""
    if pooled is None:
        return {"from": "catalogue", "groups": 0, "boats": 0, "computed_at": None}
    return {
        "from": "club",
        "groups": pooled.groups,
        "boats": pooled.boats,
        "computed_at": pooled.computed_at.isoformat(),
    }


def outcomes_used_response(experience: ClubExperience | None) -> OutcomesUsed | None:
    """The club's statistics of surveys and bills that a list was computed with."""
    if experience is None:
        return None
    return {
        "groups": experience.groups,
        "boats": experience.boats,
        "computed_at": experience.computed_at.isoformat(),
        "checkpoints": sorted(experience.shifts),
        "remedies": sorted(experience.factors),
    }
