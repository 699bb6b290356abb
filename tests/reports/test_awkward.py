"""With any text that people wrote, nothing runs, fails or leaves the sheet."""

import io
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from apps.reports.content import (
    TICK,
    Bullets,
    CautionFrame,
    Column,
    Facts,
    Line,
    Paragraph,
    Part,
    Picture,
    ReportContent,
    Section,
    Table,
    WritingRoom,
    texts,
)
from apps.reports.decision_brief import decision_brief
from apps.reports.lettering import LACKED, breakable, settable
from apps.reports.page import page_of
from apps.reports.paper import paper_of
from tests.appraisal.building import fill
from tests.reports.reading import Page, paper_said, places_of_letters, squeezed

MARKUP = (
    '#panic("run") *x* _y_ $z$ <a> @b `c` \\ // [d] = e {{ f }} {% g %} <script>h</script> &amp;'
)
SCRIPTS = {
    "greek": "Αλκυόνα",
    "cyrillic": "Чайка у причала",  # noqa: RUF001
    "hebrew": "שחף על הים",
    "arabic": "نورس البحر",
    "accents": "Sjöfågel Łabędź Ağrı Mëlûsìne",  # noqa: RUF001
    "combining": "Cafe\u0301",
}


def report_of(text: str) -> ReportContent:
    """A report with one text in every place for people's text, shortened to the field's length."""
    name = text[:120]
    rows = Part(((name, text, name, TICK, ""),), title=name)
    columns = (
        Column(name),
        Column("Text"),
        Column("Other"),
        Column("sound", "ticks"),
        Column("Note", "writing"),
    )
    cost = {"low": "1.00", "likely": "2.00", "high": "3.00", "currency": "EUR"}
    row = {
        "place": 1,
        "name": name,
        "upfront": cost,
        "later": cost,
        "within_budget": 0.5,
        "strike_off_advised": False,
        "condition": {"score": 50, "low": 40, "high": 60, "coverage": None},
    }
    blocks = (
        Paragraph(text, lead=text),
        CautionFrame(text, lead=text),
        Bullets((Line(text, lead=text),)),
        Facts((("Said", text), ("To say", ""))),
        Table(caption=name, columns=columns, parts=(rows,)),
        Picture("conditions", {"candidates": [row]}, alt=text or "none", caption=text),
        WritingRoom(name, lines=2),
    )
    return ReportContent(name, text, None, name, blocks, (Section(name, blocks, (Section(name),)),))


def test_what_looks_like_markup_is_text():
    report = report_of(MARKUP)
    assert squeezed(MARKUP) in paper_said(paper_of(report, "a4"), report.foot)
    page = Page(page_of(report, "a4"))
    assert squeezed(MARKUP) in squeezed(page.said)
    assert not page.all("script", "a")


@pytest.mark.parametrize("text", SCRIPTS.values(), ids=SCRIPTS)
def test_scripts_that_the_fonts_draw(text):
    """The words can be copied out again; a reader of PDFs gives right-to-left ones either way."""
    pdf = paper_of(report_of(text), "a4")
    said = squeezed(PdfReader(io.BytesIO(pdf)).pages[0].extract_text())
    for word in map(squeezed, text.split()):
        assert word in said or word[::-1] in said
    assert LACKED not in said


def test_scripts_that_no_font_draws():
    """Boxes on paper, with a line that says so; on the page as they are."""
    report = report_of("Seagull 海鷗")
    said = paper_said(paper_of(report, "a4"), "Seagull □□")
    assert squeezed("Seagull □□") in said
    assert squeezed("□ stands for a character that the fonts of this print do not have") in said
    assert "海鷗" in Page(page_of(report, "a4")).said
    assert LACKED not in paper_said(paper_of(report_of("Seagull"), "a4"), "Seagull")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "\x00\x07",
        "\ufeff",
        "\ud800",
        "\uffff",
        "\u202eevil",
        "\U0010ffff",
        "\ue000",
        "a\r\nb\tc",
    ],
)
def test_characters_that_are_none(text):
    assert paper_of(report_of(f"Tern {text}"), "a4").startswith(b"%PDF-")


@settings(deadline=None, max_examples=60)
@given(st.text(max_size=40))
def test_any_text_at_all(text):
    report = ReportContent(f"R{text}", text, None, text, (Paragraph(text), Bullets((Line(text),))))
    assert paper_of(report, "a4").startswith(b"%PDF-")
    assert "<p>" in page_of(report, "a4")


def test_what_is_left_out_of_text_for_paper():
    assert settable("a\u202eb\x07c\ufeff") == "abc"
    assert settable("Cafe\u0301") == "Café"  # Unicode standard annex 15, figure 3
    assert settable("x\ud800") == "x?"


def test_long_runs_get_places_to_break():
    assert breakable("W" * 40).split("\u200b") == ["W" * 18, "W" * 18, "W" * 4]
    assert breakable("short words stay as they are") == "short words stay as they are"


# --- Nothing leaves the sheet --------------------------------------------------------------------

LONG = "Wanderer" * 15  # 120 letters, the longest name a boat may have


def within_margins(pdf: bytes) -> None:
    """Margins are 16 of 210 mm at the sides; the footer is inside the lower margin."""
    for sheet, left, right, bottom, top in places_of_letters(pdf):
        assert 0.07 < left <= right < 0.93, (sheet, left, right)
        assert 0.02 < bottom <= top < 0.97, (sheet, bottom, top)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("text", [LONG, "word " * 800, MARKUP], ids=["run", "words", "markup"])
def test_long_texts_stay_on_the_sheet(text, paper):
    report = report_of(text)
    pdf = paper_of(report, paper)
    within_margins(pdf)
    said = paper_said(pdf, report.foot)
    for part in set(texts(report)):
        assert squeezed(part) in said


def test_forty_boats(yard, cast):
    """Several pictures on one scale, each on its sheet; no sheet is empty."""
    people = [cast.ben.person, cast.bea.person]
    fill(yard, people, 40, looked=0.15)
    yard.boat(LONG[:120])
    yard.recompute()
    report = decision_brief(cast.ben.person, yard.list.pk)
    pdf = paper_of(report, "a4")
    within_margins(pdf)
    sheets = [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]
    assert all(len(sheet) > 150 for sheet in sheets)
    said = " ".join(" ".join(sheets).split())
    board = cast.ben.get(f"/lists/{yard.list.pk}/board").json()["candidates"]
    for rows in (board[:21], board[21:]):  # level boats share a place, also across two pictures
        which = f"places {rows[0]['place']} to {rows[-1]['place']}"
        assert f"Cost up front against the budget, {which}:" in said
    for row in board:
        assert f"{row['place']}. {row['name'][:15]}" in said


def test_the_captions_of_pictures_keep_with_them(yard, cast):
    """A picture and its caption are one figure, never torn apart."""
    fill(yard, [cast.ben.person], 3, looked=0.15)
    yard.recompute()
    html = page_of(decision_brief(cast.ben.person, yard.list.pk), "a4")
    page = Page(html)
    assert all(picture["path"][-1] == "figure" for picture in page.all("img", "figcaption"))
    assert re.search(r"figure \{[^}]*break-inside: avoid", html)
