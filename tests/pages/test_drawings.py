"""The small drawings beside the words of a keel, a drive and a rig."""

import re
from pathlib import Path
from xml.etree import ElementTree

from django.contrib.staticfiles import finders

from apps.boats import particulars
from apps.pages.boats.particulars import FIRST
from tests.pages.browser import Browser

SVG = "{http://www.w3.org/2000/svg}"


def drawn() -> set[str]:
    root = ElementTree.fromstring(Path(finders.find("pages/drawings.svg")).read_text())
    return {str(one.get("id")) for one in root.iter(f"{SVG}symbol")}


def test_each_word_that_is_asked_for_first_has_one():
    words = {f"{name}-{value}" for name in FIRST for value in particulars.BUILDS[name].values}
    assert drawn() == words


def test_they_stand_beside_their_words(scene):
    page = Browser(scene.cast.ben).get(f"/lists/{scene.list.pk}/boats/new").content.decode()
    shown = re.findall(r"/drawings[.\w]*\.svg#([\w-]+)", page)
    assert set(shown) == drawn()
    assert len(shown) == len(set(shown))
    assert page.count('aria-hidden="true"') >= len(shown), "the words say it to screen readers"
