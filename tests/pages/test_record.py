"""The page of what happened to a boat."""

import pytest

from apps.catalogue.selectors import catalogue_snapshot
from apps.records.models import RecordEntry
from tests.pages.browser import Browser
from tests.pages.test_every_page import queries_of
from tests.surveys.conftest import quoted_by_the_yard


@pytest.fixture
def at(scene):
    return f"/boats/{scene.heron.pk}/record"


def asked(scene, question="Is the mast down?"):
    body = {"question": question, "asked_of": "seller"}
    made = scene.cast.ben.post(f"/candidates/{scene.heron.pk}/follow-ups", body)
    assert made.status_code == 201, made.content


def shown(who, at) -> str:
    return Browser(who).get(at).content.decode()


def test_before_the_first_entry_it_says_what_it_will_show(scene, at):
    assert "Nothing is recorded yet" in shown(scene.cast.ben, at)


def test_it_says_what_happened_and_that_it_holds_together(scene, at):
    asked(scene, "Is the <mast> down?")
    page = shown(scene.cast.ivy, at)
    assert "A question was asked: Is the &lt;mast&gt; down?" in page
    assert ", Ben</span>" in page
    assert "Just checked: each of the 1 entries" in page
    assert RecordEntry.objects.get().digest in page


def test_a_remedy_is_shown_by_its_name(scene, at):
    made = quoted_by_the_yard(scene, "900.00", "2025-03-20")
    assert made.status_code == 201, made.content
    title = catalogue_snapshot(scene.list.group_id).catalogue.remedies["rebed"].title
    page = shown(scene.cast.ivy, at)
    assert f"was added for “{title}”." in page
    assert f'<dd class="breaks">{title}</dd>' in page


def test_it_says_where_it_does_not(scene, at):
    asked(scene)
    asked(scene)
    RecordEntry.objects.filter(number=2).update(digest="0" * 64)
    assert "changed or removed at entry 2" in shown(scene.cast.ben, at)


def test_an_opinion_that_is_hidden_is_not_shown(scene, at):
    path = f"/candidates/{scene.heron.pk}/valuation"
    value = {"amount": "20123.00", "currency": scene.list.currency}
    scene.cast.ben.put(path, {"valuation": value})
    assert "20123" in shown(scene.cast.ben, at)
    page = shown(scene.cast.ivy, at)
    assert "20123" not in page
    assert "Somebody gave an opinion" in page


def test_older_entries_are_on_another_page(scene, at, monkeypatch):
    monkeypatch.setattr("apps.pages.boats.record.SHOWN", 2)
    for n in range(3):
        asked(scene, f"Question {n}?")
    page = shown(scene.cast.ben, at)
    assert "Question 0?" not in page
    assert '<a href="?before=2">' in page
    older = shown(scene.cast.ben, f"{at}?before=2")
    assert "Question 0?" in older
    assert "Question 1?" not in older
    assert Browser(scene.cast.ben).get(f"{at}?before=x").status_code == 200


def test_it_costs_the_same_for_many(scene, at):
    browser = Browser(scene.cast.ben)
    asked(scene)
    before = queries_of(browser, at)
    for n in range(4):
        asked(scene, f"Question {n}?")
    assert queries_of(browser, at) == before


def test_facts_are_in_words_with_names_for_ids(scene, at):
    ranks = [[str(scene.dunlin.pk)], [str(scene.heron.pk)]]
    scene.cast.ben.put(f"/lists/{scene.list.pk}/ballot", {"ranks": ranks})
    body = {"stage": "struck_off", "reason": "Too far"}
    scene.cast.ben.post(f"/candidates/{scene.heron.pk}/stage-changes", body)
    page = shown(scene.cast.ben, at)
    assert '<dt>Ranks</dt><dd class="breaks">Dunlin, Heron</dd>' in page
    assert '<dt>To</dt><dd class="breaks">struck off</dd>' in page
