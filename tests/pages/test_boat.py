"""A boat's page, and the form that adds one."""

import pytest

from apps.appraisal.jobs import list_recompute
from apps.boats.models import Candidate, PriceRecord, StageChange
from apps.viewings.models import Viewing
from tests.pages.browser import Browser
from tests.pages.conftest import EVIL
from tests.pages.test_every_page import queries_of
from tests.viewings.conftest import could_not, look


@pytest.fixture
def at(scene) -> str:
    return f"/boats/{scene.heron.pk}"


@pytest.fixture
def looked(scene):
    """Heron can be priced; Hal saw a broken wire, Ben could not look."""
    Candidate.objects.filter(list=scene.list).update(
        asking_amount=20_000, asking_currency="EUR", loa_m=9.5
    )
    scene.list.exchange_rates = {"USD": "0.9"}
    scene.list.save()
    scene.posted(scene.cast.hal, look("terminals", 3, note=f"a strand {EVIL}"), note="cold")
    scene.posted(scene.cast.ben, could_not("terminals", "poor_light"), vote="query")
    list_recompute(list_id=scene.list.pk)
    return scene


def page_of(who, at: str) -> str:
    return Browser(who).get(at).content.decode()


def test_it_says_what_was_seen_by_whom_and_what_nobody_saw(looked, at):
    page = page_of(looked.cast.hal, at)
    assert "A screening by non-experts is not a survey." in page
    assert "Hal: defective" in page
    assert "Ben could not look: the light is poor." in page
    assert "Nobody has looked at" in page
    assert "A rigger must judge" in page
    assert "Wire terminals: Hal saw it as defective on 1 March 2025." in page


def test_notes_are_text(looked, at):
    page = page_of(looked.cast.hal, at)
    assert EVIL not in page
    assert "a strand &lt;b onclick" in page


def test_whoever_has_not_looked_is_asked_to_look_first(looked, at):
    """Hal has: what the others saw stands open. Bea has not, and Ivy only observes."""
    assert "Show what the others saw" in page_of(looked.cast.bea, at)
    for who in (looked.cast.hal, looked.cast.ivy):
        assert "Show what the others saw" not in page_of(who, at)


def test_calls_of_others_come_after_ones_own(looked, at):
    assert "Ben: query" not in page_of(looked.cast.bea, at)
    assert "Ben: query" in page_of(looked.cast.ben, at)


def test_it_says_what_missing_particulars_would_change(scene, at):
    Candidate.objects.filter(pk=scene.heron.pk).update(keel="")
    assert "only because nobody said" in page_of(scene.cast.ben, at)
    assert "Without one she cannot be priced" in page_of(scene.cast.ben, at)


def test_price_stage_and_visits_have_their_history(looked, at):
    ben = looked.cast.ben.person
    PriceRecord.objects.create(
        candidate=looked.heron,
        amount=21_000,
        currency="EUR",
        asked_on="2025-01-04",
        by=ben,
        advert_link="https://boats.example.org/heron",
        advert_text=f"Dry ship {EVIL}",
    )
    StageChange.objects.create(
        candidate=looked.heron, from_stage="listed", to_stage="viewing", reason="why not", by=ben
    )
    page = page_of(looked.cast.ivy, at)
    assert "4 January 2025: 21,000 EUR" in page
    assert 'href="https://boats.example.org/heron"' in page
    assert "The advert of 4 January 2025" in page
    assert "Dry ship &lt;b" in page
    assert "from listed to viewing, by Ben" in page
    assert f'href="/visits/{looked.viewing.pk}"' in page


@pytest.mark.parametrize(
    ("who", "adds", "plans"),
    [("ola", True, True), ("ben", True, True), ("hal", False, True), ("ivy", False, False)],
)
def test_forms_are_for_those_who_may(looked, at, who, adds, plans):
    page = page_of(getattr(looked.cast, who), at)
    assert (f'data-api="PATCH /candidates/{looked.heron.pk}"' in page) == adds
    assert (f'data-api="POST /candidates/{looked.heron.pk}/quotes"' in page) == adds
    assert (f'href="{at}/visits/new"' in page) == plans


def test_whoever_is_not_of_the_group_sees_no_boat(looked, at):
    for who in (looked.cast.wim, looked.cast.sten):
        assert Browser(who).get(at).status_code == 404
    assert Browser().get(at)["Location"] == f"/sign-in?next=%2Fboats%2F{looked.heron.pk}"


def test_the_form_holds_the_version_that_is_shown(looked, at):
    looked.heron.refresh_from_db()
    held = looked.heron.etag.replace('"', "&quot;")
    assert f'data-etag="{held}"' in page_of(looked.cast.ben, at)


def test_more_boats_and_looks_cost_no_more_queries(looked, at):
    ben = Browser(looked.cast.ben)
    ben.get(at)
    few = queries_of(ben, at)
    for n in range(3):
        boat = Candidate.objects.create(
            list=looked.list, added_by=looked.cast.ben.person, name=f"Boat {n}", loa_m=9
        )
        for visited in (boat, looked.heron):
            visit = looked.visit(visited, state=Viewing.State.MADE)
            visit.people.add(looked.cast.hal.person)
            looked.posted(looked.cast.hal, look("terminals", n), viewing=visit)
    list_recompute(list_id=looked.list.pk)
    assert queries_of(ben, at) == few


def test_a_new_boat_is_for_those_who_buy(scene):
    at = f"/lists/{scene.list.pk}/boats/new"
    page = page_of(scene.cast.ben, at)
    assert f'data-api="POST /lists/{scene.list.pk}/candidates"' in page
    assert "Ballast inside the moulding" in page
    assert 'data-api="POST' not in page_of(scene.cast.hal, at)


def test_another_currency_can_be_chosen_if_the_list_has_a_rate(scene):
    at = f"/lists/{scene.list.pk}/boats/new"
    assert 'data-currency="EUR"' in page_of(scene.cast.ben, at)
    scene.list.exchange_rates = {"USD": "0.9"}
    scene.list.save()
    page = page_of(scene.cast.ben, at)
    assert 'data-currency-of="asking.amount-currency"' in page
    assert '<option value="USD"' in page
