"""The parts of simulated seasons: worlds, raters and the truth (`seasons`)."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

import numpy as np

from apps.appraisal.compute.arrays import ListArrays
from apps.appraisal.compute.inputs import Inputs
from apps.reckoning.arrays import Floats, Ints
from apps.reckoning.levels import LEVELS
from apps.reckoning.reporting import SLIP
from apps.viewings.facts import LiveFinding

TODAY = date(2026, 3, 1)
FIRST_VISIT = datetime(2026, 1, 10, 10, tzinfo=UTC)
PEOPLE = 3
# Areas with the care of the engine; the others have the care of hull and rig.
ENGINE_AREAS = frozenset(
    {"engine", "exhaust-cooling", "fuel", "propulsion", "electrics", "plumbing", "cooking-gas"}
)


@dataclass(frozen=True)
class World:
    """How the truth is drawn.

    two_cares: engine and systems are kept apart from hull and rig. tails: degrees of freedom of
    Student's t, above 2, in place of a normal of the same standard deviation. area_lean: standard
    deviation of how a person's lean differs from area to area, in levels. hiding: by how much less
    often each worse level is seen.
    """

    name: str
    two_cares: bool = False
    tails: float | None = None
    area_lean: float = 0.0
    hiding: float = 0.0


ASSUMED = World("assumed")
OTHERWISE = World("otherwise", two_cares=True, tails=3.0, area_lean=0.4, hiding=0.2)
WORLDS = {world.name: world for world in (ASSUMED, OTHERWISE)}


@dataclass(frozen=True, eq=False)
class Rater:
    """How one person sees: lean and spread in levels, plus a lean by area, (areas,).

    slip: the chance that a report has nothing to do with the truth, as members' are assumed to.
    """

    person_id: uuid.UUID
    lean: float
    spread: float
    by_area: Floats
    slip: float = SLIP

    @property
    def whole_spread(self) -> float:
        """One spread that includes the leans by area."""
        return float(np.hypot(self.spread, self.by_area.std()))


@dataclass(frozen=True, eq=False)
class Truth:
    """care: (I, 2) class of hull and rig, and of engine and systems. level: (I, J)."""

    care: Ints
    level: Ints
    raters: tuple[Rater, ...]


@dataclass(frozen=True, eq=False)
class Season:
    """arrays: of the list before anybody looked. area: (J,) index of each checkpoint's area."""

    world: World
    inputs: Inputs
    truth: Truth
    arrays: ListArrays
    area: Ints

    def with_findings(self, more: Iterable[LiveFinding]) -> "Season":
        findings = (*self.inputs.findings, *more)
        return replace(self, inputs=replace(self.inputs, findings=findings))


# --- Draws ---------------------------------------------------------------------------------------


def one_of_each(level: Floats, rng: np.random.Generator) -> Ints:
    """One level from each distribution; level (..., 5)."""
    reached = rng.random((*level.shape[:-1], 1)) > np.cumsum(level, axis=-1)
    return np.minimum(reached.sum(axis=-1), LEVELS - 1)


def heavy_tailed(freedom: float, shape: tuple[int, ...], rng: np.random.Generator) -> Floats:
    """Student's t, scaled to a standard deviation of 1."""
    return rng.standard_t(freedom, shape) * np.sqrt((freedom - 2) / freedom)


def rounded(value: Floats) -> Ints:
    return np.clip(np.rint(value), 0, LEVELS - 1).astype(np.intp)


def new_id(rng: np.random.Generator) -> uuid.UUID:
    return uuid.UUID(bytes=rng.bytes(16))
