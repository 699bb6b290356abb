"""Two worlds with the same records, where every text is HTML that tries to run."""

from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from django.core.cache import cache

from apps.catalogue.services import catalogue_load
from tests.catalogue.conftest import small_files
from tests.kept import kept
from tests.pages.browser import Browser
from tests.system.calls import planned_trip, visited
from tests.system.walk import Standing, Walk, both_worlds, undone
from tests.viewings.conftest import files, scene  # noqa: F401

EVIL = '<b onclick="x">'


@pytest.fixture(scope="module")
def worlds(django_db_setup, django_db_blocker, tmp_path_factory) -> Iterator[Walk]:
    def made() -> Walk:
        catalogue_load(folder=small_files(tmp_path_factory.mktemp("catalogue")).folder)
        walk = both_worlds(f"{EVIL}Ternword", f"{EVIL}Skuaword")
        for world in (walk.here, walk.there):
            planned_trip(world)
            visited(world)
        return walk

    with django_db_blocker.unblock(), undone():
        yield kept("worlds of pages", made)


@pytest.fixture
def walk(worlds) -> Iterator[Walk]:
    with undone():
        yield replace(worlds, given=Standing())


@pytest.fixture
def browser(walk) -> dict[str, Browser]:
    """A browser for each person."""
    names = (
        *("organiser", "buyer", "helper", "observer", "adviser"),
        *("stranger", "other_group", "left"),
    )
    return {name: Browser(walk.who[name]) for name in names} | {"nobody": Browser()}


@pytest.fixture
def limit(settings) -> Iterator[Callable[[str, int], None]]:
    """Sets a rate limit, with counters that no other test shares."""

    def set_to(name: str, quota: int) -> None:
        settings.RATES = {**settings.RATES, name: (quota, 900)}

    cache.clear()
    yield set_to
    cache.clear()
