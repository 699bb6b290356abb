"""Reads the board once it is up to date, and the details behind it, as a member of the group."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from server.demo.client import Client
from server.demo.scenario import Scenario

if TYPE_CHECKING:  # the demo is a client of the service: it needs none of this when it runs
    from apps.appraisal.board.answer import BoardRow
    from apps.appraisal.board.candidate_answer import ReasonsRead, RollupRead
    from apps.appraisal.board.selectors import Board
    from apps.appraisal.looks.looks_selectors import NextLooksAnswer, RatersAnswer
    from apps.appraisal.stored.parts import Amount

WAIT_SECONDS = 20  # in one request; the service has its own limit
MOST_WAITS = 9


@dataclass(frozen=True)
class DemoBoat:
    """`row` is the boat's row on the board; the others are answers about this boat alone."""

    row: "BoardRow"
    candidate: dict[str, Any]
    rollup: "RollupRead"
    reasons: "ReasonsRead"


@dataclass(frozen=True)
class DemoReading:
    list_path: str
    board: "Board"
    budget: "Amount"
    boats: list[DemoBoat]
    next_looks: "NextLooksAnswer"
    raters: "RatersAnswer"


def read(client: Client, scenario: Scenario) -> DemoReading:
    at = f"/lists/{find_list(client, scenario)}"
    board: Board = fresh(client, f"{at}/board")
    assert board["budget"] is not None, "a board that is up to date has it"
    return DemoReading(
        list_path=at,
        board=board,
        budget=board["budget"],
        boats=[read_boat(client, row) for row in (*board["candidates"], *board["struck_off"])],
        next_looks=fresh(client, f"{at}/next-looks"),
        raters=fresh(client, f"{at}/raters"),
    )


def find_list(client: Client, scenario: Scenario) -> str:
    group = by_name(client, "/groups", scenario.group["name"])
    return by_name(client, f"/groups/{group}/lists", scenario.candidate_list["name"])


def by_name(client: Client, path: str, name: str) -> str:
    return next(str(one["id"]) for one in client.pages(path) if one["name"] == name)


def fresh(client: Client, path: str) -> Any:
    """A computed answer, once it is up to date."""
    for _ in range(MOST_WAITS):
        answer = client.get(f"{path}?wait={WAIT_SECONDS}")
        if answer["fresh"] or answer["failing"]:
            break
    return answer


def read_boat(client: Client, row: "BoardRow") -> DemoBoat:
    at = f"/candidates/{row['candidate_id']}"
    return DemoBoat(
        row=row,
        candidate=client.get(at),
        rollup=client.get(f"{at}/rollup")["rollup"],
        reasons=client.get(f"{at}/reasons")["reasons"],
    )


def save(client: Client, reading: DemoReading, folder: Path) -> list[Path]:
    """Save the board and the brief as files: a browser has no token to ask for them."""
    saved = [folder / name for name in ("board.html", "board.svg", "decision-brief.pdf")]
    for path in saved:
        path.write_bytes(client.get_file(f"{reading.list_path}/{path.name}"))
    return saved
