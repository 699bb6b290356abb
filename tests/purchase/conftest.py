"""The data of the viewings' tests, with a list in euros that has a rate for dollars."""

import pytest

from tests.catalogue.conftest import files  # noqa: F401
from tests.viewings.conftest import Scene
from tests.viewings.conftest import scene as viewings_scene  # noqa: F401


@pytest.fixture
def scene(viewings_scene) -> Scene:  # noqa: F811
    viewings_scene.list.exchange_rates = {"USD": "0.92"}
    viewings_scene.list.save()
    return viewings_scene
