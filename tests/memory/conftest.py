import pytest

from tests.memory.building import Harbour, harbour_made


@pytest.fixture
def harbour(db) -> Harbour:
    return harbour_made()
