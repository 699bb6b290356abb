"""Both worlds, made once for all tests that use them and undo their changes."""

import pytest

from apps.catalogue.services import catalogue_load
from tests.catalogue.conftest import small_files
from tests.kept import kept
from tests.system.walk import Walk, both_worlds, undone


@pytest.fixture(scope="module")
def worlds(django_db_setup, django_db_blocker, tmp_path_factory) -> Walk:
    def made() -> Walk:
        catalogue_load(folder=small_files(tmp_path_factory.mktemp("catalogue")).folder)
        return both_worlds()

    with django_db_blocker.unblock(), undone():
        yield kept("worlds", made)
