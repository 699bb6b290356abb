import pytest

from tests.kept import kept
from tests.outcomes.building import Harbour, harbour_made


@pytest.fixture
def harbour(db) -> Harbour:
    return kept("harbour", harbour_made)
