"""The admin shows the loaded catalogue read-only."""

import pytest
from django.test import Client

from apps.accounts.models import Person
from apps.catalogue.models import CheckpointVersion
from tests.catalogue.own import JOINT, said

PAGES = (
    "edition",
    "checkpointversion",
    "remedyversion",
    "caution",
    "scale",
    "enabling",
    "fee",
    "runningcost",
)


@pytest.fixture
def operator(small_catalogue) -> Client:
    person = Person.objects.create_superuser("op@example.org", "long enough", name="Operator")
    client = Client()
    client.force_login(person)
    return client


@pytest.mark.parametrize("page", PAGES)
def test_everything_is_shown(operator, page):
    answer = operator.get(f"/admin/catalogue/{page}/")
    assert answer.status_code == 200
    assert answer.context["cl"].result_count >= 1


def test_what_clubs_and_groups_say_is_shown(waters, operator):
    said(waters.sue, f"{waters.of_club}/checkpoints/joint", {**JOINT, "weight": 5})
    shown = operator.get("/admin/catalogue/cataloguechange/")
    assert shown.context["cl"].result_count == 1
    shown = operator.get("/admin/catalogue/checkpointversion/")
    assert shown.context["cl"].result_count == 4


def test_nothing_is_changed(operator):
    version = CheckpointVersion.objects.get(checkpoint="joint")
    at = f"/admin/catalogue/checkpointversion/{version.pk}/change/"
    assert "Follow the line all round." in operator.get(at).content.decode()
    assert operator.post(at, {"title": "Other"}).status_code == 403
