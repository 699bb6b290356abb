"""What all pictures share: they hold in grey and for any eye, for shapes say what colours say.

Colours are of the set that Okabe and Ito (2008), Color Universal Design, made for all kinds of
colour vision. Text stays text, so that it can be read out and searched.
"""

import io
import textwrap

import matplotlib
from matplotlib.figure import Figure

matplotlib.rcParams["svg.fonttype"] = "none"
matplotlib.rcParams["svg.hashsalt"] = "board"  # the same picture has the same bytes

BLUE, VERMILION, GREY = "#0072B2", "#D55E00", "#555555"


def drawn(figure: Figure, kind: str) -> bytes:
    """kind: svg or png."""
    out = io.BytesIO()
    metadata = {"Date": None} if kind == "svg" else {}
    figure.savefig(out, format=kind, dpi=150, metadata=metadata)
    return out.getvalue()


def under(figure: Figure, caution: str, *, letters: int = 7, width: int = 110) -> None:
    """letters: their size in points. width: of a line, in characters."""
    figure.supxlabel("\n".join(textwrap.wrap(caution, width)), fontsize=letters, color=GREY)


def shorter(name: str, width: int = 28) -> str:
    cut = textwrap.shorten(name, width, placeholder="…")
    if cut == "…":  # one long word
        cut = f"{name[: width - 1]}…"
    # A dollar sign begins mathematics for the plotting library.
    return cut.replace("$", r"\$")


def picture_inside(picture: bytes) -> str:
    """An SVG without its prolog, to stand inside a page."""
    text = picture.decode()
    return text[text.index("<svg") :]
