"""The style sheet: contrast by WCAG 2.2, and nothing from other hosts."""

import re
from itertools import product
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders

CSS = Path(finders.find("pages/pages.css")).read_text()
SCHEMES = dict(zip(("light", "dark"), re.findall(r":root \{(.*?)\}", CSS, re.DOTALL), strict=False))
ON_GROUND = ("text", "quiet", "accent", "alarm")


def colours(scheme: str) -> dict[str, str]:
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", SCHEMES[scheme]))


def luminance(colour: str) -> float:
    """Relative luminance: https://www.w3.org/TR/WCAG22/#dfn-relative-luminance."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_black_on_white_is_21_to_1():
    assert round(contrast("#000000", "#ffffff"), 2) == 21


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_by_7_to_1(scheme):
    known = colours(scheme)
    for name, ground in product(ON_GROUND, ("ground", "raised")):
        assert contrast(known[name], known[ground]) >= 7, (scheme, name, ground)
    assert contrast(known["on-accent"], known["accent"]) >= 7


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_edges_of_fields_stand_out_by_3_to_1(scheme):
    """Success criterion 1.4.11."""
    known = colours(scheme)
    assert contrast(known["line"], known["ground"]) >= 3


def test_what_is_pressed_is_48_px_high():
    """A rem is 16 px unless the reader says otherwise."""
    for rule in ("button, .button", "input, select, textarea"):
        body = CSS[CSS.index(f"{rule} {{") :].partition("}")[0]
        assert "min-height: 3rem" in body, rule


def test_it_loads_nothing():
    assert "url(" not in CSS
    assert "@import" not in CSS
