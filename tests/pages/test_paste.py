"""Pasted boats: what is understood is shown first, and nothing is stored before it is sent."""

import html
import re

import pytest

from apps.boats.models import Candidate
from tests.pages.browser import Browser
from tests.pages.conftest import EVIL


@pytest.fixture
def at(scene) -> str:
    return f"/lists/{scene.list.pk}/paste"


def pasted(scene, at: str, text: str) -> str:
    return Browser(scene.cast.ben).submit(at, {"text": text}).content.decode()


def test_it_shows_what_is_understood_and_stores_nothing(scene, at):
    before = Candidate.objects.count()
    page = pasted(scene, at, "Godwit; 31,000; 9.8 m; 1984; Mill Creek\nKnot; 12000")
    assert "Put 2 boats on the list" in page
    assert '<td data-column="Where she lies">Mill Creek</td>' in page
    assert Candidate.objects.count() == before


def test_what_it_shows_is_what_the_api_takes(scene, at):
    page = pasted(scene, at, "Godwit; 31,000; 9.8 m; 1984; Mill Creek\nKnot; 12000")
    table = html.unescape(re.search(r'<textarea name="csv"[^>]*>([^<]*)', page)[1])
    sent = Browser(scene.cast.ben).write(
        "POST", f"/lists/{scene.list.pk}/imports", {"csv": table, "dry_run": False}
    )
    assert sent.status_code == 201
    godwit = Candidate.objects.get(name="Godwit")
    assert (godwit.asking_amount, godwit.loa_m, godwit.build_year) == (31_000, 9.8, 1984)


def test_what_is_wrong_is_named_by_line_and_column(scene, at):
    page = pasted(scene, at, "Godwit; 9.8 m\n\nKnot; 200 m; 12,000 GBP")
    assert "on the list</button>" not in page
    assert re.search(
        r'<span class="in-cards quiet">Line</span> 3<p class="error">Length overall \(m\): ', page
    )
    page = pasted(scene, at, "name;colour\nGodwit;red")
    assert "Line 1" in page
    assert "colour" in page
    assert "on the list</button>" not in page


def test_pasted_text_is_text(scene, at):
    assert EVIL not in pasted(scene, at, f"{EVIL}; {EVIL}; 9.8 m")


def test_only_those_who_buy_paste(scene, at):
    for who in (scene.cast.hal, scene.cast.ivy):
        assert "<textarea" not in Browser(who).get(at).content.decode()
    assert Browser(scene.cast.wim).get(at).status_code == 404


def test_many_lines_cost_as_many_queries_as_two(scene, at, django_assert_max_num_queries):
    with django_assert_max_num_queries(40):
        pasted(scene, at, "\n".join(f"Boat {n}; {9000 + n}; 9.8 m" for n in range(200)))
