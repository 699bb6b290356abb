"""The base of all pictures. Shapes repeat what colours show, so they work in grey and for any eye.

Colours are from the set of Okabe and Ito (2008), Color Universal Design, for all kinds of colour
vision. Text stays text, so that it can be read aloud and searched.
"""

import io
import textwrap

import matplotlib
from matplotlib.figure import Figure

matplotlib.rcParams["svg.fonttype"] = "none"
matplotlib.rcParams["svg.hashsalt"] = "board"  # the same picture has the same bytes

BLUE, VERMILION, GREY = "#0072B2", "#D55E00", "#555555"


def drawn(figure: Figure, kind: str) -> bytes:
    """The figure as a file. kind: svg or png."""
    out = io.BytesIO()
    metadata = {"Date": None} if kind == "svg" else {}
    figure.savefig(out, format=kind, dpi=150, metadata=metadata)
    return out.getvalue()


def under(figure: Figure, caution: str, *, letters: int = 7, width: int = 110) -> None:
    """Put the caution under the figure. letters: size in points. width: characters per line."""
    figure.supxlabel("\n".join(textwrap.wrap(caution, width)), fontsize=letters, color=GREY)


def shorter(name: str, width: int = 28) -> str:
    cut = textwrap.shorten(name, width, placeholder="…")
    if cut == "…":  # the first word is too long
        cut = f"{name[: width - 1]}…"
    # The plotting library reads a dollar sign as the start of a formula.
    return cut.replace("$", r"\$")


def picture_inside(picture: bytes) -> str:
    """An SVG without its prolog, to embed in a page."""
    text = picture.decode()
    return text[text.index("<svg") :]
