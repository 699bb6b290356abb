"""The statistics as pictures and as a page."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.template.loader import render_to_string
from django.utils.safestring import SafeString, mark_safe

from apps.common.processes.keeping import kept_by_content
from apps.common.wording import lead, percent
from apps.outcomes import sentences
from apps.outcomes.answer import CheckpointOutcomes, OutcomesRead
from apps.outcomes.kinds import ALL, TITLES


@dataclass(frozen=True)
class OutcomePicture:
    """A picture in a page. described: its text alternative."""

    title: str
    caption: str
    described: str
    svg: SafeString


CAPTIONS = {
    "found": (
        "What surveys found",
        "How often each thing was defective or worse: the disc is the share of surveyed boats, the "
        "line its 80% interval, the upright stroke what the catalogue expects of these boats. The "
        "table below says the same.",
    ),
    "disclosed": (
        "How well quick looks had seen it",
        "Discs: of boats where a survey found it defective or worse, how often a member had seen "
        "it. Squares: of the others, how often no member had reported it. Lines are 80% "
        "intervals. The table below says the same.",
    ),
    "cost": (
        "What it came to against the estimate",
        "What was paid over what the catalogue had estimated: the disc is the geometric mean, the "
        "line its 80% interval; at 1 the estimate was right. The table below says the same.",
    ),
}


@kept_by_content
def outcomes_picture(club_outcomes: OutcomesRead, picture: str) -> bytes:
    # The plotting library loads slowly, so it is imported only for pictures.
    from apps.common.drawing import drawn
    from apps.outcomes.pictures import FIGURES

    return drawn(FIGURES[picture](club_outcomes), "svg")


def outcomes_page(club_outcomes: OutcomesRead, zone: str) -> str:
    """The statistics as a page. zone: the IANA time zone of its times."""
    return render_to_string(
        "outcomes/outcomes.html",
        {
            "club_outcomes": club_outcomes,
            "zone": zone,
            "pictures": [
                _picture(club_outcomes, name) for name in CAPTIONS if described(club_outcomes, name)
            ],
            "checkpoints": [{**one, "lines": _lines(one)} for one in club_outcomes["checkpoints"]],
            "respects": TITLES,
            "all_boats": club_outcomes["boats_shown"]["by"] == ALL[0],
        },
    )


def _picture(club_outcomes: OutcomesRead, name: str) -> OutcomePicture:
    from apps.common.drawing import picture_inside

    title, caption = CAPTIONS[name]
    svg = picture_inside(outcomes_picture(club_outcomes, name))
    # The picture is made here, and the plotting library escapes its texts.
    return OutcomePicture(title, caption, described(club_outcomes, name), mark_safe(svg))  # noqa: S308


def described(club_outcomes: OutcomesRead, name: str) -> str:
    """The picture's text alternative; empty if the picture would be empty."""
    match name:
        case "found":
            lines = [
                f"{lead(one['title'])} {sentences.found(one['found'])}."
                for one in club_outcomes["checkpoints"]
                if one["found"]
            ]
        case "disclosed":
            lines = [
                f"{lead(one['title'])} {_disclosed(one)}."
                for one in club_outcomes["checkpoints"]
                if one["caught"] or one["cleared"]
            ]
        case _:
            lines = [
                f"{lead(one['title'])} {sentences.cost(one['cost'])}."
                for one in club_outcomes["remedies"]
                if one["cost"]
            ]
    return " ".join(lines)


def _disclosed(one: CheckpointOutcomes) -> str:
    stated = []
    if one["caught"]:
        stated.append(f"seen on {percent(one['caught']['figure'])} where it was so")
    if one["cleared"]:
        stated.append(f"not seen on {percent(one['cleared']['figure'])} where it was not")
    return ", ".join(stated)


def _lines(one: CheckpointOutcomes) -> list[Mapping[str, object]]:
    """Rows of the table: all boats of the request, then each kind of boat."""
    return [{"words": "", **one}, *one.get("divided", ())]
