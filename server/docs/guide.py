"""The guide, and the operator's pages: one Markdown file for each, in the order of their names.

Beside them stands one page for people who write no programs.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe
from django.utils.text import slugify
from markdown_it import MarkdownIt
from markdown_it.token import Token

from apps.accounts.scopes import SCOPES

GUIDE = Path(__file__).parent / "guide"
OPERATING = Path(__file__).parent / "operating"
SATURDAY = Path(__file__).parent / "saturday.md"
# Where its pictures are: a path by which the file can be read without the service, too.
PICTURES = 'src="static/'

# The service's address in the pages; replaced by the address that the reader uses.
ORIGIN = "http://127.0.0.1:8000"

# The first word of a fence names its language; the others tell the tests how to run it.
LABELS = {
    "sh": "Shell",
    "python": "Python",
    "json": "Answer, in part",
    "text": "Prints",
    "http": "Sent, in short",
    "yaml": "YAML",
    "cron": "Lines for cron",
}


@dataclass(frozen=True)
class Fence:
    """One fenced block of a page."""

    line: int  # of the file, counted from 1
    language: str
    words: tuple[str, ...]
    content: str


@dataclass(frozen=True)
class GuidePage:
    """One page; `html` still has `ORIGIN` as the service's address, `lead` is the first
    paragraph."""

    slug: str
    title: str
    lead: SafeString
    html: SafeString
    fences: tuple[Fence, ...]

    def html_at(self, origin: str) -> SafeString:
        return mark_safe(self.html.replace(ORIGIN, origin))  # noqa: S308 - our own files


@cache
def pages(folder: Path = GUIDE) -> tuple[GuidePage, ...]:
    return tuple(_read(path) for path in sorted(folder.glob("*.md")))


@cache
def saturday() -> GuidePage:
    """A day in the yard, in pictures."""
    return _read(SATURDAY)


def _read(path: Path) -> GuidePage:
    slug = re.sub(r"^\d+-", "", path.stem)
    tokens = _markdown().parse(path.read_text())
    headings = list(_headings(tokens))
    title = headings[0][1]
    lead = next(t.content for t in tokens if t.type == "inline" and t.content != title)
    html = _markdown().renderer.render(tokens, _markdown().options, {})
    html = html.replace("<p>{{scopes}}</p>", _scopes_html())
    html = html.replace(PICTURES, f'src="{settings.STATIC_URL}')
    return GuidePage(slug, title, line_html(lead), mark_safe(html), tuple(_fences(tokens)))  # noqa: S308


def _scopes_html() -> str:
    rows = format_html_join("\n", "<tr><td><code>{}</code></td><td>{}</td></tr>", SCOPES.items())
    return format_html(
        '<div class="wide" tabindex="0"><table><thead><tr><th>scope</th>'
        "<th>lets a program</th></tr></thead><tbody>{}</tbody></table></div>",
        rows,
    )


def _headings(tokens: Sequence[Token]) -> Iterator[tuple[str, str]]:
    """Give every heading an id to link to; yield ids and texts."""
    for opening, inline in pairwise(tokens):
        if opening.type == "heading_open":
            heading_id = slugify(inline.content)
            opening.attrSet("id", heading_id)
            yield heading_id, inline.content


def _fences(tokens: Sequence[Token]) -> Iterator[Fence]:
    for token in tokens:
        if token.type == "fence":
            language, *words = token.info.split() or [""]
            line = token.map[0] + 1 if token.map else 0
            yield Fence(line, language, tuple(words), token.content)


def line_html(text: str) -> SafeString:
    """HTML of a sentence or two in Markdown, for a page from a template."""
    html: str = _markdown().renderInline(text)
    return mark_safe(html)  # noqa: S308 - our own files


@cache
def _markdown() -> MarkdownIt:
    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    markdown.add_render_rule("fence", _fence_html)
    markdown.add_render_rule("table_open", lambda *_: '<div class="wide" tabindex="0"><table>\n')
    markdown.add_render_rule("table_close", lambda *_: "</table></div>\n")
    return markdown


def _fence_html(
    self: Any, tokens: Sequence[Token], index: int, options: Any, env: Any
) -> SafeString:
    """A block with its label; a keyboard can scroll it where it is wider than the page."""
    language, *words = tokens[index].info.split() or [""]
    named = next((word.removeprefix("file=") for word in words if word.startswith("file=")), "")
    label = f"{LABELS[language]}, saved as {named}" if named else LABELS[language]
    return format_html(
        '<figure class="example"><figcaption>{}</figcaption>'
        '<pre tabindex="0"><code>{}</code></pre></figure>\n',
        label,
        tokens[index].content,
    )
