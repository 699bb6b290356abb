"""Prepare text for paper: no invalid characters, only characters of the fonts, breakable lines.

A PDF/UA-1 must not hold a character that its fonts do not draw. A missing one becomes an open box;
the page, which uses the reader's own fonts, shows it as it is.
"""

import re
import unicodedata
from functools import cache
from pathlib import Path
from typing import Any

FONT_FILES = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")
LACKED = "□"
LONGEST_RUN = 18  # letters without a place to break a line

# Characters without a shape or a meaning on paper, and those that reverse the text after them.
LEFT_OUT = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u00ad\u200b\u200e\u200f\u202a-\u202e"
    "\u2060-\u206f\ufdd0-\ufdef\ufe00-\ufe0f\ufeff\ufff0-\uffff]"
)


def settable(text: str) -> str:
    """In composed form (NFC), without control characters and lone surrogates."""
    whole = text.encode("utf-8", "replace").decode("utf-8")
    return LEFT_OUT.sub("", unicodedata.normalize("NFC", whole))


def drawable(text: str) -> str:
    """With an open box in place of each character that the fonts lack."""
    lacked = lacking(text)
    return "".join(LACKED if one in lacked else one for one in text) if lacked else text


def lacking(text: str) -> set[str]:
    return {one for one in set(text) if ord(one) not in drawn() and not one.isspace()}


@cache
def font_folder() -> Path:
    """The fonts that come with the plotting library, which loads slowly.

    They draw Latin, Greek, Cyrillic, Hebrew, Arabic, Armenian, Georgian and many signs; the
    pictures use the same letters.
    """
    import matplotlib

    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


@cache
def drawn() -> frozenset[int]:
    """The characters that the fonts draw, plain and bold."""
    from matplotlib.ft2font import FT2Font

    plain, bold = (set(FT2Font(font_folder() / name).get_charmap()) for name in FONT_FILES)
    return frozenset(plain & bold)


def breakable(text: str) -> str:
    """With places to break a line in runs of letters too long for a column."""
    return re.sub(rf"\S{{{LONGEST_RUN}}}(?=\w)", lambda run: f"{run[0]}\u200b", text)


def for_paper(text: str) -> str:
    return breakable(drawable(settable(text)))


def everywhere(change: Any, value: Any) -> Any:
    """The same data with each text in it changed."""
    if isinstance(value, str):
        return change(value)
    if isinstance(value, dict):
        return {key: everywhere(change, one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [everywhere(change, one) for one in value]
    return value
