"""A list's board: its boats in order, with the advice and what to look at next."""

import uuid
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, TypedDict, TypeVar

from django.http import HttpRequest, HttpResponse

from apps.accounts.models import Person
from apps.appraisal import columns
from apps.appraisal.board.answer import BoardRow, MemberRead
from apps.appraisal.board.selectors import Board, board_read
from apps.appraisal.jobs import Of
from apps.appraisal.looks.looks_selectors import looks_etag, next_looks_of
from apps.appraisal.looks.looks_sentences import SURVEY_ANYWAY
from apps.appraisal.reading import Reading
from apps.appraisal.stored.looks import AnyVisit
from apps.appraisal.words import sentences
from apps.boats.selectors import list_for
from apps.groups.rules import actions_of, visible_clubs
from apps.pages.base import PageView
from apps.pages.lists.cost_bars import BarScale, CostBar
from apps.planning.selectors import trips_of_group
from apps.reports.words import sea_trial_in_words
from apps.viewings.sea_trials import sea_trials_of

LOOKS_SHOWN, VISITS_SHOWN, SURVEYS_SHOWN, TRIPS_SHOWN = 5, 3, 3, 5


class ListBoardView(PageView):
    def get(self, request: HttpRequest, list_id: uuid.UUID) -> HttpResponse:
        candidate_list = list_for(self.person, list_id)
        board = board_read(self.person, list_id)
        return self.page(
            "pages/board.html",
            list=candidate_list,
            may=may(self.person, candidate_list.group_id),
            in_club=visible_clubs(self.person).filter(groups=candidate_list.group_id).exists(),
            board=board,
            rows=rows_of(board),
            looks=looks_shown(self.person, list_id),
            trips=trips_of_group(self.person, candidate_list.group_id).order_by("-day", "-pk")[
                :TRIPS_SHOWN
            ],
        )


def may(person: Person, group_id: uuid.UUID) -> dict[str, bool]:
    """What the person may do in the group, for templates: `may.add`, `may.opine`. One query."""
    return {action.name.lower(): True for action in actions_of(person, group_id)}


class ShownRow(BoardRow):
    bar: CostBar | None
    no_cost: str
    condition_words: str
    advised: str
    otherwise: list[str]


def rows_of(board: Board, rows: Sequence[BoardRow] | None = None) -> list[ShownRow]:
    """Each boat, by default those in order, with its line and the words of its cells."""
    rows = board["candidates"] if rows is None else rows
    scale = board["budget"] and BarScale.of(board["budget"], (row["upfront"] for row in rows))
    return [
        {
            **row,
            "bar": scale.bar(row["upfront"]) if scale and row["upfront"] else None,
            "no_cost": sentences.no_cost(row["missing"]),
            "condition_words": columns.condition(row["condition"]),
            "advised": columns.advised(row),
            "otherwise": list(otherwise(row, board["members"])),
        }
        for row in rows
    ]


def otherwise(row: BoardRow, members: Iterable[MemberRead]) -> Iterator[str]:
    """Whose own order has her elsewhere, as far as the reader may see it."""
    for member in members:
        for own in member["places"]:
            if own["candidate_id"] == row["candidate_id"] and own["place"] != row["place"]:
                yield f"{member['name']} ({own['place']})"


def of_sea_trial(visit: AnyVisit) -> bool:
    return visit["kind"] == "sea_trial"


class OfCandidate(TypedDict):
    candidate_id: str


R = TypeVar("R", bound=OfCandidate)


def looks_shown(person: Person, list_id: uuid.UUID, candidate_id: str = "") -> dict[str, Any]:
    """The first of what is worth looking at, of one boat if she is named.

    Without any valuation that the reader may see, by how far a look moves the costs.
    """
    reading = Reading.of_list(person, list_id, Of.LOOKS)
    looks = next_looks_of(reading)

    def first(rows: Iterable[R], most: int) -> list[R]:
        return [one for one in rows if candidate_id in ("", one["candidate_id"])][:most]

    costs = looks["of_costs"]
    by_costs = not first(looks["checks"], 1) and not first(looks["visits"], 1)
    shown = costs if by_costs else looks
    trials = sea_trials_of(person, list_id)
    return {
        "checks": first(shown["checks"], LOOKS_SHOWN),
        "visits": first((one for one in shown["visits"] if not of_sea_trial(one)), VISITS_SHOWN),
        "sea_trials": [
            {**one, "state": sea_trial_in_words(trials.get(one["candidate_id"]))}
            for one in first(filter(of_sea_trial, shown["visits"]), VISITS_SHOWN)
        ],
        "surveys": first((one for one in looks["surveys"] if one["now"]), SURVEYS_SHOWN),
        "survey_anyway": SURVEY_ANYWAY,
        "left_out": first(looks["left_out"], LOOKS_SHOWN),
        "by_costs": costs["sentence"] if by_costs else "",
        "settled": looks["settled"],
        "sentences": looks["sentences"],
        "fresh": looks["fresh"],
        "etag": looks_etag(reading).strip('"'),
    }
