"""Whatever comes from outside is a value or a clear refusal, never another exception.

Each property feeds one reader with what nobody meant to send: any bytes, any text, and sound
content with a part of it changed. The structure of what is changed is the formats' own: ZIP
(APPNOTE), JPEG, RIFF/WAVE, CSV (RFC 4180), iCalendar (RFC 5545), ETags (RFC 9110), from memory.
"""

import base64
import contextlib
import io
import json
import zipfile
from decimal import Decimal

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from icalendar import Calendar, Event
from rest_framework.exceptions import APIException, ParseError, ValidationError

from apps.archives.packing import FORMAT, VERSION, Archive, ArchiveInvalid
from apps.boats.pasted import understood
from apps.boats.tables import TableInvalid, read_rows
from apps.common.errors import Invalid
from apps.events.feed import positions_of
from apps.http.fields import CurrencyAmount, MoneyField
from apps.http.pages import decode
from apps.http.parsing import BodyParser
from apps.http.views import matches
from apps.second_opinions.queue import KEY_LENGTHS, SMALLEST, cursor_of, key_in
from apps.viewings.media.pdf import pdf_read
from apps.viewings.media.pictures import picture_read
from apps.viewings.media.reading import Unreadable
from apps.viewings.media.recordings import recording_read
from tests.viewings.media import paper, picture, taps

few = settings(max_examples=50, deadline=None)
PICTURES = tuple(picture(form, size=(24, 16)) for form in ("JPEG", "PNG", "WEBP"))
RECORDING = taps(taps=3)
PAPER = paper()
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=8,
)
CELLS = st.text(st.sampled_from("ab,;\t\"'\n\r\x00 1.9£$m") | st.characters(codec="utf-8"))


@st.composite
def damaged(draw, *sound: bytes) -> bytes:
    """A sound file with bytes changed, cut off or put in."""
    content = bytearray(draw(st.sampled_from(sound)))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, max(len(content) - 1, 0)))
        content[at : at + draw(st.integers(0, 8))] = draw(st.binary(max_size=8))
    return bytes(content[: draw(st.integers(0, len(content)))] if draw(st.booleans()) else content)


# --- Files ---------------------------------------------------------------------------------------


def zipped(files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for name, content in files.items():
            packed.writestr(name, content)
    return out.getvalue()


MANIFEST = {
    "format": FORMAT,
    "version": VERSION,
    "of": "group",
    "subject": {},
    "email_salt": "",
    "counts": {},
    "sha256": {"lists.jsonl": "0" * 64},
}
ARCHIVE = zipped({"manifest.json": json.dumps(MANIFEST).encode(), "lists.jsonl": b"{}\n"})


def of_a_later_version(content: bytes) -> bytes:
    """The ZIP file with a central directory that demands version 25.5."""
    at = content.index(b"PK\x01\x02") + 6
    return content[:at] + b"\xff" + content[at + 1 :]


def archive_read(content: bytes) -> None:
    with contextlib.suppress(ArchiveInvalid):
        archive = Archive(io.BytesIO(content))
        assert isinstance(archive.subject_name, str)
        for name in archive.manifest["sha256"]:
            list(archive.rows(name.removesuffix(".jsonl")))


@few
@given(st.binary(max_size=200) | damaged(ARCHIVE))
@example(of_a_later_version(ARCHIVE))
def test_an_archive_of_any_bytes(content):
    archive_read(content)


@few
@given(st.sampled_from(sorted(MANIFEST)), ANYTHING, st.binary(max_size=60))
def test_an_archive_with_any_manifest_and_any_rows(field, value, rows):
    manifest = json.dumps(MANIFEST | {field: value}).encode()
    archive_read(zipped({"manifest.json": manifest, "lists.jsonl": rows}))


@few
@given(st.binary(max_size=200) | damaged(*PICTURES))
def test_a_picture_of_any_bytes(content):
    with contextlib.suppress(Unreadable):
        assert picture_read(io.BytesIO(content)).width > 0


@few
@given(st.binary(max_size=200) | damaged(RECORDING))
def test_a_recording_of_any_bytes(content):
    with contextlib.suppress(Unreadable):
        assert recording_read(io.BytesIO(content)).recording


@few
@given(st.binary(max_size=200) | damaged(PAPER))
def test_a_pdf_of_any_bytes(content):
    with contextlib.suppress(Unreadable):
        assert pdf_read(io.BytesIO(content)) == content


# --- Texts ---------------------------------------------------------------------------------------


@few
@given(CELLS)
@example("a" * 200_000)  # longer than Python's csv takes a cell
@example("name\n" + "a" * 200_000)
def test_a_table_of_any_text(text):
    with contextlib.suppress(TableInvalid):
        assert read_rows(text, ["name", "a", "b"], ["name"])


@few
@given(CELLS)
@example("a" * 200_000)
@example("name\n" + "a" * 200_000)
def test_pasted_lines_of_any_text(text):
    pasted = understood(text, "EUR")
    with contextlib.suppress(TableInvalid):
        read_rows(pasted.csv, ["name", "loa_m", "asking"], ["name"])


@few
@given(st.binary(max_size=100) | ANYTHING.map(lambda value: json.dumps(value).encode()))
@example(b"[" * 100_000)
def test_a_body_of_any_bytes(content):
    with contextlib.suppress(ParseError, Invalid):
        BodyParser().parse(io.BytesIO(content))


@few
@given(
    ANYTHING
    | st.fixed_dictionaries(
        {"amount": ANYTHING | st.decimals().map(str), "currency": ANYTHING | st.just("EUR")}
    )
)
@example({"amount": "1e999999999", "currency": "EUR"})
@example({"amount": "NaN", "currency": "EUR"})
def test_money_of_anything(sent):
    with contextlib.suppress(ValidationError, APIException):
        money = MoneyField().to_internal_value(sent)
        assert isinstance(money, CurrencyAmount)
        assert 0 <= money.amount < Decimal(10) ** 12


@few
@given(st.text(max_size=60), st.text(max_size=60), st.text(max_size=60))
def test_a_text_in_a_calendar_is_read_back_as_it_was(summary, location, description):
    """By the library that writes the trips' calendars; only ends of lines may differ."""
    made, event = Calendar(), Event()
    said = {"summary": summary, "location": location, "description": description}
    for name, text in said.items():
        event.add(name, kept(text))
    made.add_component(event)
    (read,) = Calendar.from_ical(made.to_ical()).walk("VEVENT")
    for name, text in said.items():
        assert str(read[name]) == kept(text)


def kept(text: str) -> str:
    """Printable text, as `strip` leaves it: bodies refuse what is not kept."""
    return "".join(c for c in text if c.isprintable() and c != "\\").strip()


# --- Headers and parameters ----------------------------------------------------------------------

PACKED = ANYTHING.map(lambda v: base64.urlsafe_b64encode(json.dumps(v).encode()).decode())
CURSORS = st.text(max_size=60) | st.binary().map(lambda b: base64.urlsafe_b64encode(b).decode())
DEEP = base64.urlsafe_b64encode(b"[" * 3000).decode()


@few
@given(CURSORS)
@example(DEEP)
def test_a_cursor_of_any_text(cursor):
    for read in (decode, positions_of):
        with contextlib.suppress(Invalid):
            read(cursor)


@few
@given(
    CURSORS | PACKED,
    st.sampled_from(sorted(KEY_LENGTHS)),
    st.lists(ANYTHING, min_size=2, max_size=4),
)
@example(DEEP, "date", ["", ""])
@example("", "value", [False, 1.0, 5, None])
def test_a_cursor_of_the_queue_can_be_compared_with_every_key(cursor, order, key):
    for one in (cursor, cursor_of(order, key)):
        with contextlib.suppress(Invalid):
            read = key_in(one, order)
            assert sorted([read, [*read[:-1], "~"], SMALLEST[order]])


@few
@given(st.text(max_size=40), st.booleans())
def test_a_header_of_any_text_names_a_version_or_not(header, weak):
    assert matches(header, '"7"', weak=weak) in (True, False)
    assert matches(f'{header.replace(chr(34), "")}, "7"', '"7"', weak=weak)


@pytest.mark.parametrize("header", ["7", "", '"7', 'W/"7"', '"8", "77"'])
def test_what_is_not_that_version_never_matches_a_change(header):
    assert not matches(header, '"7"', weak=False)
