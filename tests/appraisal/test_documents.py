"""The board as a table, a picture and a page."""

import csv
import io
import struct
from html.parser import HTMLParser
from xml.etree import ElementTree

import pytest

from apps.appraisal.board.documents import harmless
from apps.appraisal.models import ListAppraisal
from apps.appraisal.words.phrases import rounded


def test_the_table(spring, cast):
    answer = cast.ben.get(f"{spring.path}/board.csv")
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    rows = list(csv.DictReader(io.StringIO(answer.content.decode())))
    assert [row["boat"] for row in rows[:4]] == ["Petrel", "Fulmar", "Skua", "Tern"]
    board = cast.ben.get(f"{spring.path}/board").json()
    first = board["candidates"][0]
    assert rows[0]["upfront_likely"] == first["upfront"]["likely"]
    assert rows[0]["later_mean"] == first["later"]["mean"]
    assert rows[0]["all_in_likely"] == first["all_in"]["likely"]
    assert (rows[0]["before_buying"], rows[1]["strike_off_advised"]) == ("", "no")
    assert "before a surveyor has judged it" in rows[1]["before_buying"]
    assert rows[2]["strike_off_advised"] == "yes"
    assert rows[3]["upfront_low"] == rows[3]["later_mean"] == rows[3]["all_in_low"] == ""
    assert "not a survey" in rows[-1]["boat"]


def test_names_are_not_worked_out_by_spreadsheets(yard, cast):
    yard.boat('=HYPERLINK("http://example.org")')
    yard.recompute()
    table = cast.ben.get(f"/lists/{yard.list.pk}/board.csv").content.decode()
    (row, _) = list(csv.DictReader(io.StringIO(table)))
    assert row["boat"].startswith("'=")


@pytest.mark.parametrize("cell", ["=1", "+1", "-1", "@x", "\tx"])
def test_what_begins_like_a_formula(cell):
    assert harmless(cell) == f"'{cell}"
    assert harmless(-1.5) == -1.5


def test_the_picture_says_what_it_shows_in_words_too(spring, cast):
    answer = cast.ben.get(f"{spring.path}/board.svg")
    assert answer["Content-Type"] == "image/svg+xml"
    said = " ".join(ElementTree.fromstring(answer.content).itertext())
    board = cast.ben.get(f"{spring.path}/board").json()
    later = f" +{rounded(float(board['candidates'][0]['later']['mean'])):,.0f}"
    for words in ("1. Petrel", "budget 90,000", later, "strike off?", "cannot be priced yet"):
        assert words in said
    assert "not a survey" in " ".join(said.split())
    assert cast.ben.get(f"{spring.path}/board.svg").content == answer.content


def test_the_picture_in_dots(spring, cast):
    answer = cast.ben.get(f"{spring.path}/board.png")
    assert answer["Content-Type"] == "image/png"
    assert answer.content[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", answer.content[16:24])
    assert width > 800
    assert height > 300


def test_the_page_says_when_working_it_out_fails(spring, cast):
    said = "The last attempt to work it out failed"
    assert said not in cast.ben.get(f"{spring.path}/board.html").content.decode()
    ListAppraisal.objects.update(attempts=2)
    assert said in cast.ben.get(f"{spring.path}/board.html").content.decode()


class Page(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict]] = []
        self.words: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))

    def handle_data(self, data):
        self.words.append(data)


def test_the_page(spring, cast):
    answer = cast.ben.get(f"{spring.path}/board.html")
    assert answer["Content-Type"] == "text/html; charset=utf-8"
    page = Page(answer.content.decode())
    words = " ".join(" ".join(page.words).split())
    assert "not a survey" in words
    assert "Reason to strike off:" in words
    assert "Petrel" in words
    assert "Within the budget Later" in words
    described = next(at["aria-label"] for tag, at in page.tags if at.get("role") == "img")
    assert "1. Petrel: Up front probably" in described
    # It can be saved and sent round: nothing in it is fetched from anywhere.
    assert not any(at.get("src") or tag in ("script", "link") for tag, at in page.tags)
    assert "@media print" in answer.content.decode()


def test_names_cannot_break_out_of_the_page(yard, cast):
    yard.boat("<script>alert(1)</script> & Co $x$")
    yard.recompute()
    text = cast.ben.get(f"/lists/{yard.list.pk}/board.html").content.decode()
    assert "<script" not in text


def test_an_empty_list_has_its_page_too(yard, cast):
    yard.recompute()
    for form in ("csv", "svg", "png", "html"):
        assert cast.ben.get(f"/lists/{yard.list.pk}/board.{form}").status_code == 200


def test_a_refusal_is_problem_details_whatever_form_was_asked_for(spring, cast):
    refused = cast.wim.get(f"{spring.path}/board.svg")
    assert refused.status_code == 404
    assert refused["Content-Type"] == "application/problem+json"
    assert refused.json()["code"] == "not_found"


def test_the_way_from_the_asking_price_as_a_picture(spring, cast):
    answer = cast.ben.get(f"/candidates/{spring.petrel.pk}/explanation.svg")
    said = " ".join(ElementTree.fromstring(answer.content).itertext())
    assert "Asking price" in said
    assert "All-in, on average" in said
    assert "not a survey" in " ".join(said.split())
    unpriced = cast.ben.get(f"/candidates/{spring.tern.pk}/explanation.svg")
    assert b"cannot be priced yet" in unpriced.content
