"""Migrations that the former version survives: its processes still run while `prepare` works."""

import pytest
from django.apps import apps
from django_migration_linter import MigrationLinter
from django_migration_linter.sql_analyser import analyse_sql_statements, get_sql_analyser_class


@pytest.mark.django_db
def test_the_former_version_survives_each_migration(settings):
    """The first one of each app makes its tables, which no former version uses."""
    settings.MIGRATION_MODULES = {}  # which tests disable
    linter = MigrationLinter(
        str(settings.BASE_DIR),
        include_apps=[one.label for one in apps.get_app_configs() if one.name.startswith("apps.")],
        ignore_name=("0001_initial",),
        no_cache=True,
    )
    linter.lint_all_migrations()
    assert not linter.has_errors


@pytest.mark.parametrize(
    ("statement", "survived"),
    [
        ("ALTER TABLE boats_yard ADD COLUMN crane varchar(10) NULL", True),
        ("ALTER TABLE boats_yard ADD COLUMN crane varchar(10) NOT NULL", False),
        ("ALTER TABLE boats_yard DROP COLUMN name", False),
        ("ALTER TABLE boats_yard RENAME TO boats_place", False),
    ],
)
def test_what_the_check_finds(statement, survived):
    analyser = get_sql_analyser_class("postgresql")
    errors, _, _ = analyse_sql_statements(analyser, [statement])
    assert (errors == []) is survived
