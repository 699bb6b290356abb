"""Simulated seasons of buying a boat: lists of which everything true is known.

A season is what the results of one list are worked out from (`appraisal.inputs.Inputs`), with the
shipped catalogue and no database, and beside it what nobody in it knows: the true level of every
checkpoint, how well each boat was kept, how each person sees. Its boats, prices and budgets are
invented; they lie about those of the demo's story (project's own estimate).

In the first world everything is drawn from the model as it is. In the second it is not: hull and
engine are kept by two kinds of care, levels and reports have heavy tails, people lean differently
in every area, and bad things are seen less often.
"""

import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from pathlib import Path

import numpy as np

from apps.appraisal.arrays import ListArrays, list_arrays
from apps.appraisal.inputs import Boat, Brief, Buyer, Inputs
from apps.catalogue.content import Snapshot
from apps.catalogue.reading import read_catalogue
from apps.reckoning.arrays import Bools, Floats, Ints
from apps.reckoning.belief import CARE_PRIOR, expected_levels, prior_levels
from apps.reckoning.graders import WIDENING
from apps.reckoning.levels import LEVELS, discretised_normal
from apps.viewings.facts import ConditionsMet, LiveFinding

TODAY = date(2026, 3, 1)
FIRST_VISIT = datetime(2026, 1, 10, 10, tzinfo=UTC)
PEOPLE = 3
LAY_SO = ConditionsMet("", None, "", None, None, None, "", "")
SURENESS = tuple(WIDENING)
# Areas that whoever keeps an engine well keeps well; the rest goes with hull and rig.
ENGINE_AREAS = frozenset(
    {"engine", "exhaust-cooling", "fuel", "propulsion", "electrics", "plumbing", "cooking-gas"}
)


@dataclass(frozen=True)
class World:
    """How the truth is made.

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
    """How one person sees: lean and spread in levels, and lean by area on top, (areas,)."""

    person_id: uuid.UUID
    lean: float
    spread: float
    by_area: Floats

    @property
    def whole_spread(self) -> float:
        """With what the areas add, as far as one spread for everything can say it."""
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


def season(number: int, world: World, *, seen: tuple[float, float] = (0.25, 0.75)) -> Season:
    """The season of this number. seen: the share of a boat that is looked at, from and to."""
    rng = np.random.default_rng([2026, number])
    boats = tuple(_boat(rng) for _ in range(rng.integers(5, 11)))
    inputs = _inputs(boats, rng)
    arrays = list_arrays(inputs)
    area = _areas(arrays)
    care = _care(len(boats), world, rng)
    level = _levels(arrays, care, area, world, rng)
    inputs = _priced(inputs, care, rng)
    raters = tuple(_rater(buyer.person_id, area, world, rng) for buyer in inputs.buyers)
    played = Season(world, inputs, Truth(care, level, raters), arrays, area)
    findings = []
    for i in range(len(boats)):
        share = rng.uniform(*seen)
        findings += first_looks(played, i, share, rng)
    return played.with_findings(findings)


# --- The boats and the people --------------------------------------------------------------------


@lru_cache(maxsize=1)
def snapshot() -> Snapshot:
    folder = Path(__file__).parents[2] / "fixtures" / "catalogue"
    catalogue = read_catalogue(folder)
    return Snapshot(1, catalogue, dict.fromkeys(catalogue.checkpoints, 1))


def _boat(rng: np.random.Generator) -> Boat:
    loa = rng.uniform(7.5, 11.5)
    age = rng.uniform(8, 50)
    built = TODAY.year - round(age)
    numbers = {"loa_m": loa, "build_year": float(built), "displacement_kg": 5.2 * loa**3}
    for year, chance, longest in (
        ("engine_year", 0.6, 30),
        ("rigging_year", 0.5, 20),
        ("sails_year", 0.4, 15),
    ):
        if rng.random() < chance:
            numbers[year] = float(TODAY.year - round(rng.uniform(1, min(age, longest))))
    return Boat(
        id=_id(rng),
        name="",
        stage="listed",
        stage_reason="",
        asking_amount=None,
        asking_currency="USD",
        numbers=numbers,
        built_of=_built_of(rng),
        ratios={},
    )


def _built_of(rng: np.random.Generator) -> dict[str, str]:
    """Mostly the common kind: a laminate with a fin keel (project's own estimate)."""
    keel = _one_of(
        rng, {"bolted_fin": 0.55, "encapsulated": 0.2, "twin": 0.1, "full": 0.1, "lifting": 0.05}
    )
    return {
        "hull_material": _one_of(rng, {"grp": 0.8, "cored_grp": 0.12, "steel": 0.05, "wood": 0.03}),
        "keel": keel,
        "keel_ballast": _one_of(rng, {"iron": 0.7, "lead": 0.3}),
        "rudder": _one_of(rng, {"skeg": 0.4, "spade": 0.4, "transom": 0.1, "keel_hung": 0.1}),
        "drive": _one_of(
            rng, {"strut_shaft": 0.4, "saildrive": 0.35, "deadwood_shaft": 0.15, "outboard": 0.1}
        ),
        "propeller": _one_of(rng, {"fixed": 0.7, "folding": 0.3}),
        "mast": _one_of(rng, {"deck_stepped": 0.6, "keel_stepped": 0.4}),
        "standing_rigging": "wire",
        "fuel": "diesel",
    }


def _inputs(boats: tuple[Boat, ...], rng: np.random.Generator) -> Inputs:
    """Without prices and worths, which depend on what the boats are."""
    return Inputs(
        today=TODAY,
        boats=boats,
        findings=(),
        clearances=(),
        snapshot=snapshot(),
        list_id=_id(rng),
        brief=_brief(float(rng.uniform(38_000, 52_000))),
        buyers=tuple(Buyer(_id(rng), 1 / PEOPLE) for _ in range(PEOPLE)),
        wants=(),
        worths={},
        ballots={},
        quotes=(),
        pooled=None,
    )


def _brief(pot: float) -> Brief:
    return Brief(
        currency="USD",
        pot=pot,
        required_confidence=0.80,
        survey_fee_per_m=85.0,
        survey_fee_minimum=600.0,
        survey_lift_out=400.0,
        tax_rate=0.0,
        transport=600.0,
        registration=400.0,
        reserve_rate=0.10,
        expected_price_share=0.93,
        expected_price_share_sd=0.04,
        yard_hourly_rate=95.0,
        own_remedies=(),
        own_hours=0.0,
        own_hour_worth=0.0,
        exchange_rates={},
        price_year=2024,
        years_kept=6,
        discount_rate=0.03,
        vote_weights="share",
    )


def _priced(inputs: Inputs, care: Ints, rng: np.random.Generator) -> Inputs:
    """What she asks follows what she would be worth in order, and a little how she was kept."""
    kept = np.array([1.12, 1.0, 0.85])[care[:, 0]]
    boats, worths = [], {}
    for boat, by_care in zip(inputs.boats, kept, strict=True):
        in_order = 46_000 * (boat.numbers["loa_m"] / 9.4) ** 1.5 * rng.lognormal(0, 0.15)
        asking = in_order * rng.uniform(0.3, 0.65) * by_care
        boats.append(replace(boat, asking_amount=round(float(asking), -2)))
        for buyer in inputs.buyers:
            worth = in_order * rng.lognormal(0, 0.06)
            worths[buyer.person_id, boat.id] = round(float(worth), -2)
    return replace(inputs, boats=tuple(boats), worths=worths)


def _rater(person_id: uuid.UUID, area: Ints, world: World, rng: np.random.Generator) -> Rater:
    """Drawn from what the model takes members for."""
    return Rater(
        person_id,
        lean=float(np.clip(rng.normal(0, 0.5), -1.5, 1.5)),
        spread=float(np.clip(0.6 * rng.lognormal(0, 0.35), 0.2, 1.8)),
        by_area=rng.normal(0, 1, int(area.max()) + 1) * world.area_lean,
    )


# --- What is true --------------------------------------------------------------------------------


def _areas(arrays: ListArrays) -> Ints:
    codes = list(dict.fromkeys(checkpoint.area for checkpoint in arrays.checkpoints))
    return np.array([codes.index(checkpoint.area) for checkpoint in arrays.checkpoints])


def _care(boats: int, world: World, rng: np.random.Generator) -> Ints:
    care = rng.choice(3, (boats, 2), p=CARE_PRIOR)
    return care if world.two_cares else care[:, [0, 0]]


def _levels(
    arrays: ListArrays, care: Ints, area: Ints, world: World, rng: np.random.Generator
) -> Ints:
    engine = np.array([checkpoint.area in ENGINE_AREAS for checkpoint in arrays.checkpoints])
    care_at = np.where(engine, care[:, 1:], care[:, :1])  # (I, J)
    boat, checkpoint = np.indices(care_at.shape)
    if world.tails is None:
        level = prior_levels(arrays.fleet, arrays.priors)[boat, care_at, checkpoint]
        return np.where(arrays.fleet.applies, one_of_each(level, rng), 0)
    mean = expected_levels(arrays.fleet, arrays.priors)[boat, care_at, checkpoint]
    noise = heavy_tailed(world.tails, mean.shape, rng) * arrays.priors.sd
    return np.where(arrays.fleet.applies, rounded(mean + noise), 0)


# --- What people see -----------------------------------------------------------------------------


def first_looks(
    played: Season, i: int, share: float, rng: np.random.Generator
) -> list[LiveFinding]:
    """One to three people go and look at this share of a boat between them."""
    who = rng.permutation(PEOPLE)[: rng.integers(1, PEOPLE + 1)]
    seen = visible(played, i) & (rng.random(len(played.area)) < chance_to_see(played, i, share))
    looked = (rng.random((len(who), len(seen))) < 0.5) & seen
    looked[rng.integers(len(who), size=len(seen)), np.arange(len(seen))] |= seen
    at = FIRST_VISIT + timedelta(days=int(rng.integers(40)))
    findings = []
    for person, theirs in zip(who, looked, strict=True):
        findings += looks_of(played, i, int(person), np.flatnonzero(theirs), at, rng)
    return findings


def visible(played: Season, i: int) -> Bools:
    """(J,): what a member can look at on this boat."""
    theirs = [not checkpoint.professional_only for checkpoint in played.arrays.checkpoints]
    return played.arrays.fleet.applies[i] & np.array(theirs)


def chance_to_see(played: Season, i: int, share: float) -> Floats:
    """(J,) chance that something is looked at, on average about this share."""
    return np.minimum(share * np.exp(-played.world.hiding * (played.truth.level[i] - 1.0)), 1.0)


def looks_of(
    played: Season,
    i: int,
    person: int,
    checkpoints: Ints,
    at: datetime,
    rng: np.random.Generator,
) -> list[LiveFinding]:
    """What one person reports of these checkpoints of a boat, from one visit."""
    rater = played.truth.raters[person]
    sure = rng.choice(len(SURENESS), len(checkpoints))
    level = reported(
        played.truth.level[i, checkpoints],
        rater.lean + rater.by_area[played.area[checkpoints]],
        rater.spread * np.array(list(WIDENING.values()))[sure],
        played.world,
        rng,
    )
    boat, viewing = played.inputs.boats[i].id, _id(rng)
    return [
        LiveFinding(
            checkpoint=played.arrays.checkpoints[j].code,
            checkpoint_version_id=1,
            kind="looked",
            level=int(said),
            reason="",
            sureness=SURENESS[how],
            measured_value=None,
            measured_unit="",
            candidate_id=boat,
            submission_id=viewing,
            author_id=rater.person_id,
            author_name="",
            capacity="member",
            profession="",
            viewing_id=viewing,
            seen_at=at,
            submitted_at=at,
            conditions=LAY_SO,
        )
        for j, said, how in zip(checkpoints, level, sure, strict=True)
    ]


def reported(
    true: Ints, lean: Floats, spread: Floats, world: World, rng: np.random.Generator
) -> Ints:
    """(N,) levels that are reported of true ones."""
    if world.tails is None:
        return one_of_each(discretised_normal(true + lean, spread), rng)
    return rounded(true + lean + spread * heavy_tailed(world.tails, true.shape, rng))


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


def _one_of(rng: np.random.Generator, chances: Mapping[str, float]) -> str:
    return str(rng.choice(list(chances), p=list(chances.values())))


def _id(rng: np.random.Generator) -> uuid.UUID:
    return uuid.UUID(bytes=rng.bytes(16))
