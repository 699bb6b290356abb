"""Queries that the service's backends compose are those that Django composes."""

from importlib import import_module

import pytest
from django.apps import apps
from django.db import connection
from django.db.models import F
from django.db.models.base import Model

from server.columns import QuickColumns

DJANGOS = {
    "sqlite": "django.db.models.sql.compiler",
    "postgresql": "django.db.backends.postgresql.compiler",
}


@pytest.mark.parametrize("model", apps.get_models(), ids=lambda model: model._meta.label)
def test_of_each_record_with_all_that_it_refers_to(model, monkeypatch):
    rows = model._base_manager.all()
    queries = [
        rows.select_related(*related(model)),
        rows.alias(the_same=F("pk")).filter(the_same__lt=F("pk")),
    ]
    ours = [composed(query) for query in queries]
    monkeypatch.setattr(connection.ops, "_cache", import_module(DJANGOS[connection.vendor]))
    assert [composed(query) for query in queries] == ours


def related(model: type[Model]) -> list[str]:
    return [field.name for field in model._meta.fields if field.is_relation]


def composed(query) -> str:
    return str(query.all().query)


def test_of_this_installation():
    assert isinstance(
        apps.get_models()[0].objects.all().query.get_compiler("default"), QuickColumns
    )
