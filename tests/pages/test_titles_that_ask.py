"""Checks whose title is a question, wherever a level or a name follows the title."""

import re

import pytest

from apps.appraisal.jobs import list_recompute
from apps.boats.models import Candidate
from apps.catalogue.services import catalogue_load
from tests.pages.browser import Browser
from tests.surveys.conftest import commissioned, reported
from tests.viewings.conftest import look

BADLY = re.compile(r"[^.:>]*\?[:.,;](?:\s|<)")


@pytest.fixture
def asking(scene):
    """Both checks of the small catalogue ask; one was seen, answered, and surveyed."""
    files = scene.catalogue
    files.change("checkpoints/keel.toml", "Line where keel meets hull", "Does the keel move?")
    files.change("checkpoints/rigging.toml", "Wire terminals", "Are the wires whole?")
    catalogue_load(folder=files.folder)
    Candidate.objects.filter(list=scene.list).update(
        asking_amount=20_000, asking_currency="EUR", loa_m=9.5
    )
    scene.posted(scene.cast.hal, look("joint", 3), look("terminals", 3))
    survey = commissioned(scene).json()["id"]
    assert reported(scene, f"/surveys/{survey}").status_code == 201
    list_recompute(list_id=scene.list.pk)
    return scene


def test_the_page_of_a_boat(asking):
    page = Browser(asking.cast.ben).get(f"/boats/{asking.heron.pk}").content.decode()
    assert "Are the wires whole? Hal saw it as defective" in page
    assert BADLY.findall(page) == []


def test_the_page_of_her_survey(asking):
    page = Browser(asking.cast.ben).get(f"/boats/{asking.heron.pk}/survey").content.decode()
    assert "Does the keel move? defective" in page
    assert BADLY.findall(page) == []


@pytest.mark.parametrize(
    "path",
    [
        "/lists/{list}/board.html",
        "/lists/{list}/board.csv",
        "/lists/{list}/decision-brief.html",
        "/viewings/{viewing}/day-sheet.html",
        "/candidates/{heron}/reasons",
    ],
)
def test_the_answers_for_print_and_programs(asking, path):
    at = path.format(list=asking.list.pk, heron=asking.heron.pk, viewing=asking.viewing.pk)
    answer = asking.cast.ben.get(at)
    assert answer.status_code == 200
    text = answer.content.decode()
    assert "Does the keel move?" in text or "Are the wires whole?" in text
    assert BADLY.findall(text) == []
