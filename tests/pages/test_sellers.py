"""The page of a boat's seller: the questions as a text, the answers, and what they change."""

import re

import pytest

from tests.pages.browser import Browser, forms_in
from tests.pages.conftest import EVIL


@pytest.fixture
def at(scene) -> str:
    return f"/boats/{scene.heron.pk}/seller"


def page(who, at: str) -> str:
    return Browser(who).get(at).content.decode()


def answered(scene, **body):
    sent = {"answer": "The yard has the key.", "said_by": "broker", "said_on": "2025-02-01", **body}
    made = scene.cast.ben.post(f"/candidates/{scene.heron.pk}/seller-answers", sent)
    assert made.status_code == 201, made.content


def text_of(shown: str) -> str:
    return re.search(r'<textarea id="questions"[^>]*>(.*?)</textarea>', shown, re.DOTALL)[1]


def test_the_open_questions_are_a_text_to_send(scene, at):
    assert "May we come aboard?" in text_of(page(scene.cast.ivy, at))
    answered(scene, question="boarding")
    assert "Everything that saves a journey was answered." in page(scene.cast.ivy, at)


def test_answers_say_who_said_what_and_when(scene, at):
    answered(scene, checkpoint="joint", level=2, answer=f"A little gap {EVIL}", name="A. Broker")
    shown = page(scene.cast.ivy, at)
    assert "A little gap &lt;b" in shown
    assert EVIL not in shown
    assert "It comes to tired." in shown
    assert "Said by the broker (A. Broker) on 1 February 2025; written down by Ben" in shown
    assert "A seller&#x27;s word is no look." in shown


def test_what_they_change_is_worked_out_when_asked_for(scene, at):
    assert "What the answers change" not in page(scene.cast.ivy, at)
    answered(scene, checkpoint="joint", level=2)
    assert "Show what they change for her" in page(scene.cast.ivy, at)
    shown = page(scene.cast.ivy, f"{at}?changes=shown")
    assert "Show what they change for her" not in shown
    section = shown[shown.index('id="changes"') :].partition("</section>")[0]
    assert "no look" in section


def test_the_forms_are_for_those_who_may(scene, at):
    answered(scene, checkpoint="joint")
    adds = f"/candidates/{scene.heron.pk}/seller-answers"
    for name, forms in {
        "ben": {"POST", "DELETE"},
        "ola": {"POST", "DELETE"},
        "bea": {"POST"},
        "hal": set(),
        "ivy": set(),
    }.items():
        found = forms_in(page(getattr(scene.cast, name), at))
        assert {method for method, _, _ in found} == forms, name
        assert all(path == adds for method, path, _ in found if method == "POST")


def test_the_boats_page_leads_there(scene, at):
    assert f'href="{at}"' in page(scene.cast.ivy, f"/boats/{scene.heron.pk}")
