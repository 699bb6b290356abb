"""Reads the board once it is up to date, and the details behind it, as a member of the group."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from server.demo.client import Client
from server.demo.scenario import Scenario

Json = dict[str, Any]

WAIT_SECONDS = 20  # in one request; the service has its own limit
MOST_WAITS = 9


@dataclass(frozen=True)
class DemoBoat:
    """`row` is the boat's row on the board; the others are answers about this boat alone."""

    row: Json
    candidate: Json
    rollup: Json
    reasons: Json


@dataclass(frozen=True)
class DemoReading:
    list_path: str
    board: Json
    boats: list[DemoBoat]
    next_looks: Json
    raters: Json


def read(client: Client, scenario: Scenario) -> DemoReading:
    at = f"/lists/{find_list(client, scenario)}"
    board = fresh(client, f"{at}/board")
    return DemoReading(
        list_path=at,
        board=board,
        boats=[read_boat(client, row) for row in (*board["candidates"], *board["struck_off"])],
        next_looks=fresh(client, f"{at}/next-looks"),
        raters=fresh(client, f"{at}/raters"),
    )


def find_list(client: Client, scenario: Scenario) -> str:
    group = by_name(client, "/groups", scenario.group["name"])
    return by_name(client, f"/groups/{group}/lists", scenario.candidate_list["name"])


def by_name(client: Client, path: str, name: str) -> str:
    return next(str(one["id"]) for one in client.pages(path) if one["name"] == name)


def fresh(client: Client, path: str) -> Json:
    """A computed answer, once it is up to date."""
    for _ in range(MOST_WAITS):
        answer: Json = client.get(f"{path}?wait={WAIT_SECONDS}")
        if answer["fresh"] or answer["failing"]:
            break
    return answer


def read_boat(client: Client, row: Json) -> DemoBoat:
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
