"""A database of an older version is refused, with what to do about it."""

import pytest
from django.core.checks import Tags, run_checks
from django.core.management import call_command
from django.core.management.base import SystemCheckError
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from apps.common.checks import OLDER


@pytest.fixture(params=sorted(OLDER), ids=".".join)
def _made_before(request, transactional_db):
    recorder = MigrationRecorder(connection)
    recorder.record_applied(*request.param)
    yield
    recorder.record_unapplied(*request.param)


@pytest.mark.usefixtures("_made_before")
def test_an_older_database_is_not_migrated():
    with pytest.raises(SystemCheckError, match="empty database") as refused:
        call_command("migrate", verbosity=0, skip_checks=False)
    assert "common.E001" in str(refused.value)


def test_a_database_of_today_is(db):
    assert run_checks(tags=[Tags.database], databases=["default"]) == []
