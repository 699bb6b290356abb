"""Photos from the seller on a boat's page, and where they are added."""

import re

import pytest

from apps.viewings.media.models import SellerPhoto
from tests.pages.browser import Browser, forms_in
from tests.pages.conftest import EVIL
from tests.pages.test_every_page import queries_of
from tests.viewings.media import picture, sent_seller_photo


@pytest.fixture
def at(scene) -> str:
    return f"/boats/{scene.heron.pk}"


def section_of(who, at: str) -> str:
    page = Browser(who).get(at).content.decode()
    return page[page.index('<h2 id="seller-photos">') :].partition("</section>")[0]


def test_they_are_apart_from_what_people_saw(scene, at):
    note = {"note": f"The saloon {EVIL}", "dated_on": "2025-02-01", "source": "broker"}
    sent_seller_photo(scene.cast.ben, scene.heron.pk, note)
    shown = section_of(scene.cast.ivy, at)
    assert "None of them counts as a look." in shown
    assert "From a broker, 1 February 2025; added by Ben" in shown
    assert "The saloon &lt;b" in shown
    assert EVIL not in shown
    (link,) = re.findall(r'href="(/media/seller_photos/[^"]+)"', shown)
    assert Browser().client.get(link).status_code == 200
    page = Browser(scene.cast.ivy).get(at).content.decode()
    assert page.count("/media/") == 2, "the picture and its thumbnail, nowhere else"


def test_what_is_being_read_or_cannot_be_is_said(scene, at):
    sent = {"file": picture(), "source": "advert"}
    scene.cast.ben.send_form(f"/candidates/{scene.heron.pk}/seller-photos", sent)
    assert "is being read" in section_of(scene.cast.ivy, at)
    SellerPhoto.objects.update(state="rejected", fault="damaged")
    assert "could not be read. The file is damaged." in section_of(scene.cast.ivy, at)


def test_the_form_is_for_those_who_may(scene, at):
    sent_seller_photo(scene.cast.ben, scene.heron.pk)
    adds = f"/candidates/{scene.heron.pk}/seller-photos"
    for name, forms in {
        "ben": {"POST", "DELETE"},
        "ola": {"POST", "DELETE"},
        "bea": {"POST"},
        "hal": set(),
        "ivy": set(),
    }.items():
        found = forms_in(section_of(getattr(scene.cast, name), at))
        assert {method for method, _, _ in found} == forms, name
        assert all(path == adds for method, path, _ in found if method == "POST")


def test_a_new_boat_takes_them_along(scene):
    page = Browser(scene.cast.ben).get(f"/lists/{scene.list.pk}/boats/new").content.decode()
    assert 'data-to="/candidates/{id}/seller-photos"' in page
    assert 'type="file"' in page


def test_more_of_them_cost_no_more_queries(scene, at):
    ben = Browser(scene.cast.ben)
    sent_seller_photo(scene.cast.ben, scene.heron.pk)
    ben.get(at)
    few = queries_of(ben, at)
    for _ in range(3):
        sent_seller_photo(scene.cast.bea, scene.heron.pk)
    assert queries_of(ben, at) == few
