import pytest

from tests.appraisal.building import Yard, load_catalogue


@pytest.fixture
def yard(cast) -> Yard:
    load_catalogue()
    return Yard.of(cast.group, cast.ola.person)
