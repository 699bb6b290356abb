"""Parses reports: the text of a page and a PDF, and their structure for screen readers."""

import io
import re
import unicodedata
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any

from pypdf import PdfReader
from pypdf.generic import DictionaryObject, IndirectObject
from pypdfium2 import PdfDocument

VOID = {"meta", "img", "br", "link", "col"}


class Page(HTMLParser):
    """A page of HTML as a flat list of elements, each with its attributes, path and own text."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.html = html
        self.elements: list[dict[str, Any]] = []
        self._open: list[dict[str, Any]] = []
        self.feed(html)
        assert not self._open, "every element is closed"

    def handle_starttag(self, tag, attributes):
        element = {
            "tag": tag,
            "at": dict(attributes),
            "text": "",
            "path": [one["tag"] for one in self._open],
        }
        self.elements.append(element)
        if tag not in VOID:
            self._open.append(element)

    def handle_endtag(self, tag):
        closed = self._open.pop()
        assert closed["tag"] == tag, f"{closed['tag']} closed by {tag}"

    def handle_data(self, data):
        for element in self._open:
            element["text"] += data

    def all(self, *tags: str) -> list[dict[str, Any]]:
        return [element for element in self.elements if element["tag"] in tags]

    @property
    def said(self) -> str:
        (body,) = self.all("body")
        return body["text"]


def squeezed(text: str) -> str:
    """The text without spaces, line breaks and forms of letters, for comparison."""
    plain = unicodedata.normalize("NFKC", text)
    return re.sub("[\\s\u200b]", "", plain)


def paper_said(pdf: bytes, foot: str) -> str:
    """The squeezed text of all pages, without their footers."""
    pages = [squeezed(page.extract_text()) for page in PdfReader(io.BytesIO(pdf)).pages]
    at_foot = re.compile(re.escape(squeezed(foot)) + r"\d+/\d+")
    return "".join(at_foot.sub("", page) for page in pages)


def tags(pdf: bytes) -> list[DictionaryObject]:
    """The elements of the structure tree, depth first."""
    root = PdfReader(io.BytesIO(pdf)).trailer["/Root"]
    return list(_tags(root["/StructTreeRoot"]))


def _tags(node: Any) -> Iterator[DictionaryObject]:
    node = node.get_object() if isinstance(node, IndirectObject) else node
    if isinstance(node, list):
        for one in node:
            yield from _tags(one)
    elif isinstance(node, DictionaryObject):
        if "/S" in node:
            yield node
        if "/K" in node:
            yield from _tags(node["/K"])


def places_of_letters(pdf: bytes) -> Iterator[tuple[int, float, float, float, float]]:
    """Of each letter that is printed: sheet, left, right, and how far top and bottom are from the
    bottom of the sheet, as parts of the sheet's width and height."""
    document = PdfDocument(pdf)
    for number, sheet in enumerate(document, start=1):
        width, height = sheet.get_size()
        text = sheet.get_textpage()
        letters = text.get_text_range()
        for index in range(min(len(letters), text.count_chars())):
            if letters[index].isspace():
                continue
            left, bottom, right, top = text.get_charbox(index)
            yield number, left / width, right / width, bottom / height, top / height
