import pytest

from tests.appraisal.building import load_catalogue
from tests.appraisal.conftest import _few_draws, spring, yard  # noqa: F401
from tests.kept import kept
from tests.old_results.rows import FILES, Old, old_made


@pytest.fixture(params=FILES, ids=lambda file: file.stem)
def old(cast, request) -> Old:
    """A list with results of an earlier version and an outdated method."""

    def made() -> Old:
        load_catalogue()
        return old_made(cast, request.param)

    return kept(("old", request.param), made)
