"""Reports are accessible: the structure of page and PDF.

The page after WCAG 2.2 (success criteria named beside each check), the PDF after PDF/UA-1, ISO
14289-1 (clauses from memory). The typesetter refuses to make a PDF/UA-1 that it knows to be none;
here it is read back by another library.
"""

import io
import re
from datetime import UTC, datetime
from itertools import pairwise

import pytest
from pypdf import PdfReader

from apps.reports.content import ReportContent
from apps.reports.day_sheet import viewing_sheet
from apps.reports.decision_brief import decision_brief
from apps.reports.page import page_of
from apps.reports.paper import paper_of
from apps.viewings.models import Viewing
from tests.reports.reading import Page, tags


@pytest.fixture(params=["brief", "sheet"])
def report(request, spring, cast) -> ReportContent:
    if request.param == "brief":
        price = {"price": {"amount": "27000.00", "currency": "USD"}, "offered_on": "2025-05-02"}
        assert cast.ben.post(f"/candidates/{spring.petrel.pk}/offers", price).status_code == 201
        return decision_brief(cast.ben.person, spring.yard.list.pk)
    visit = Viewing.objects.create(
        candidate=spring.fulmar,
        starts_at=datetime(2026, 1, 17, 14, 30, tzinfo=UTC),
        added_by=cast.ben.person,
        where="ashore",
    )
    return viewing_sheet(cast.ben.person, visit.pk)


@pytest.fixture
def pictures(report) -> int:
    """How many there are: the brief shows ranges, conditions, and the way to the first's cost."""
    return 3 if report.title.startswith("Decision brief") else 0


@pytest.fixture
def page(report) -> Page:
    return Page(page_of(report, "a4"))


@pytest.fixture
def paper(report) -> bytes:
    return paper_of(report, "a4")


# --- The page ------------------------------------------------------------------------------------


def test_language_and_title(page, report):
    """WCAG 3.1.1 language of page, 2.4.2 page titled."""
    (html,) = page.all("html")
    assert html["at"]["lang"] == "en"
    (title,) = page.all("title")
    assert title["text"] == report.title


def test_headings_go_down_by_one(page):
    """WCAG 1.3.1 info and relationships, 2.4.6 headings and labels."""
    levels = [int(heading["tag"][1]) for heading in page.all("h1", "h2", "h3", "h4", "h5", "h6")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert all(heading["text"].strip() for heading in page.all("h1", "h2", "h3", "h4"))


def test_each_picture_is_told(page, pictures):
    """WCAG 1.1.1 non-text content."""
    drawn = page.all("img")
    assert len(drawn) == pictures
    for picture in drawn:
        assert len(picture["at"]["alt"]) > 20
        assert picture["path"][-1] == "figure"
    assert len(page.all("figcaption")) == pictures


def test_tables_say_what_their_cells_are_about(page):
    """WCAG 1.3.1: each table has a caption, each header a scope, each row its name."""
    tables = page.all("table")
    assert len(tables) == len(page.all("caption")) >= 1
    for header in page.all("th"):
        assert header["at"]["scope"] in ("col", "row", "rowgroup")
    rows = [row for row in page.all("tr") if row["path"][-1] == "tbody"]
    kinds = [row["at"].get("class", "") for row in rows]
    for before, kind in zip(["", *kinds], kinds, strict=False):
        assert (kind == "note") == (before == "noted")  # a note is said of the row above it
    rows = [row for row, kind in zip(rows, kinds, strict=True) if kind != "note"]
    assert len(rows) == sum(th["at"]["scope"] in ("row", "rowgroup") for th in page.all("th"))


def test_landmarks_and_no_duplicate_ids(page):
    """WCAG 2.4.1 bypass blocks; ids are unique (HTML)."""
    assert len(page.all("main")) == 1
    ids = [element["at"]["id"] for element in page.elements if "id" in element["at"]]
    assert len(ids) == len(set(ids))


def test_contrast(page):
    """WCAG 1.4.3: 4.5 to 1 at least, for every colour that letters have, on white and on grey."""
    style = page.all("style")[0]["text"]
    inks = set(re.findall(r"(?<![-\w])color: (#\w+)", style))
    grounds = set(re.findall(r"background: (#\w+)", style))
    assert inks
    for ink in inks:
        for ground in grounds:
            assert contrast(ink, ground) >= 4.5, (ink, ground)


def contrast(ink: str, ground: str) -> float:
    """WCAG 2.2's definitions of contrast ratio and relative luminance."""
    lighter, darker = sorted((luminance(ink), luminance(ground)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def luminance(colour: str) -> float:
    digits = colour[1:] if len(colour) == 7 else "".join(c * 2 for c in colour[1:])
    parts = [int(digits[n : n + 2], 16) / 255 for n in (0, 2, 4)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_the_measure_of_contrast():
    """Black on white is 21 to 1 (WCAG 2.2); #767676 is known as the lightest grey that passes."""
    assert contrast("#000", "#fff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


def test_nothing_is_fetched_and_nothing_runs(page):
    for element in page.elements:
        assert element["tag"] not in ("script", "link", "iframe", "object")
        for name, value in element["at"].items():
            assert not name.startswith("on")
            if name in ("src", "href"):
                assert value.startswith("data:image/svg+xml;base64,")
    assert "url(" not in page.html
    assert "@import" not in page.html


# --- The PDF -------------------------------------------------------------------------------------


def test_the_pdf_says_that_it_is_tagged(paper, report):
    """ISO 14289-1, 5 (claims part 1), 7.1 (marked, title shown), 7.2 (language)."""
    pdf = PdfReader(io.BytesIO(paper))
    root = pdf.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"].startswith("en")
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]
    assert pdf.metadata.title == report.title
    assert pdf.metadata.author == "Hardstand"
    xmp = root["/Metadata"].get_data().decode()
    assert re.search(r"<pdfuaid:part>1<|pdfuaid:part=\"1\"", xmp)


def test_each_figure_of_the_pdf_is_told(paper, pictures):
    """ISO 14289-1, 7.3: a figure has an alternative; and here a caption too."""
    pictured = [tag for tag in tags(paper) if tag["/S"] == "/Figure"]
    told = [tag["/Alt"] for tag in pictured if "/Alt" in tag]
    assert len(told) == pictures
    assert all(len(alt) > 20 for alt in told)
    assert sum(tag["/S"] == "/Caption" for tag in tags(paper)) >= max(pictures, 1)


def test_the_pdf_has_headings_lists_and_headed_tables(paper):
    """ISO 14289-1, 7.4 headings in order, 7.5 tables with headers, 7.6 lists."""
    kinds = [tag["/S"] for tag in tags(paper)]
    levels = [int(kind[2:]) for kind in kinds if re.fullmatch(r"/H\d", kind)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert 1 <= kinds.count("/Table") <= kinds.count("/THead")
    assert kinds.count("/TH") >= 8
    assert {"/L", "/LI", "/LBody"} <= set(kinds)


def test_the_pdf_brings_its_fonts(paper):
    """ISO 14289-1, 7.21: fonts are embedded."""
    fonts = [
        font.get_object()
        for sheet in PdfReader(io.BytesIO(paper)).pages
        for font in sheet["/Resources"]["/Font"].values()
    ]
    assert fonts
    for font in fonts:
        (inner,) = font["/DescendantFonts"]
        descriptor = inner.get_object()["/FontDescriptor"]
        assert {"/FontFile2", "/FontFile3"} & set(descriptor)


def test_the_pdf_has_bookmarks(paper, report):
    """WCAG technique PDF2."""
    outline = str(PdfReader(io.BytesIO(paper)).outline)
    assert all(section.title in outline for section in report.sections)
