from dataclasses import dataclass, replace

import pytest

from apps.appraisal.compute import computing
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from tests.appraisal.building import Yard, load_catalogue
from tests.conftest import Cast
from tests.kept import kept


@pytest.fixture(autouse=True)
def _few_draws(monkeypatch):
    """Use few draws: these tests do not depend on their precision."""
    monkeypatch.setattr(computing, "DRAWS", 1024)


@pytest.fixture
def yard(cast) -> Yard:
    def made() -> Yard:
        load_catalogue()
        return Yard.of(cast.group, cast.ola.person)

    return kept("yard", made)


@dataclass
class Spring:
    """A computed list: Petrel sound, Fulmar tired and disputed, Skua dear, Tern without a price.

    Ben and Bea gave valuations on the first three, Ola on none.
    """

    yard: Yard
    petrel: Candidate
    fulmar: Candidate
    skua: Candidate
    tern: Candidate

    @property
    def path(self) -> str:
        return f"/lists/{self.yard.list.pk}"

    def row(self, board: dict, boat: Candidate) -> dict:
        rows = [*board["candidates"], *board["struck_off"]]
        return next(row for row in rows if row["candidate_id"] == str(boat.pk))


SOUND = {"keel-joint-line": 0, "deck-cracks": 0, "engine-oil": 0, "blister-depth": 0}


@pytest.fixture
def spring(yard, cast) -> Spring:
    found = kept("spring", lambda: spring_made(yard, cast))
    yard.list.refresh_from_db()
    return replace(found, yard=yard)


def spring_made(yard: Yard, cast: Cast) -> Spring:
    boats = Spring(
        yard,
        petrel=yard.boat("Petrel", 26_000, build_year=1998),
        fulmar=yard.boat("Fulmar", 24_000, build_year=1985),
        skua=yard.boat("Skua", 75_000, build_year=1994),
        tern=yard.boat("Tern", None),
    )
    ben, bea, hal = cast.ben.person, cast.bea.person, cast.hal.person
    for who in (ben, bea, hal):
        yard.look(boats.petrel, who, SOUND)
    yard.look(
        boats.fulmar,
        ben,
        {"keel-joint-line": 4, "deck-cracks": 2, "engine-oil": 3},
        not_looked={"blister-depth": "afloat"},
        vote="strike",
    )
    yard.look(boats.fulmar, bea, {"keel-joint-line": 0, "deck-cracks": 2, "engine-oil": 3})
    yard.look(boats.skua, hal, {"deck-cracks": 1})
    for boat, valuations in (
        (boats.petrel, (95_000, 90_000)),
        (boats.fulmar, (80_000, 88_000)),
        (boats.skua, (99_000, 91_000)),
    ):
        for person, valuation in zip((ben, bea), valuations, strict=True):
            yard.valuation(boat, person, valuation)
    CandidateList.objects.filter(pk=yard.list.pk).update(budget=90_000)
    yard.recompute()
    return boats
