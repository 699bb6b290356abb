"""Converts the story in fixtures/demo to bodies of requests.

Most tables there are such bodies already. Two shorthands are expanded here: how many days ago
something was, and findings listed under their level or under the reason why nobody could look.
"""

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

Table = dict[str, Any]

LEVELS = ("sound", "serviceable", "tired", "defective", "failed")
# Fields of a submission that are sent unchanged.
SAID = ("capacity", "profession", "vote", "minutes", "note")


@dataclass(frozen=True)
class Scenario:
    """`boats` by key, each with its candidate, opinions, viewings and what followed from them."""

    group: Table
    people: list[Table]
    yards: list[Table]
    candidate_list: Table
    wants: list[Table]
    judgements: list[Table]
    ballots: list[Table]
    expenses: list[Table]
    gates: list[Table]
    agreement: list[Table]
    handover: Table
    season: Table
    boats: Mapping[str, Table]
    folder: Path  # of the files that it names

    @property
    def organiser(self) -> Table:
        return self.people[0]

    def yard_of(self, boat: Table) -> Table:
        return next(one for one in self.yards if one["name"] == boat["candidate"]["place"]["yard"])


def read_scenario(folder: Path) -> Scenario:
    story = tomllib.loads((folder / "scenario.toml").read_text(encoding="utf-8"))
    boats = {
        key: tomllib.loads((folder / "boats" / f"{key}.toml").read_text(encoding="utf-8"))
        for key in story.pop("boats")
    }
    return Scenario(candidate_list=story.pop("list"), **story, boats=boats, folder=folder)


def submission_body(submission: Table) -> Table:
    """The body of a submission; the player fills in what it supersedes."""
    parts = {name: submission[name] for name in SAID if name in submission}
    return {**parts, "state": "submitted", "findings": list(findings_of(submission))}


def findings_of(submission: Table) -> Iterator[Table]:
    for level, word in enumerate(LEVELS):
        for checkpoint in submission.get(word, ()):
            yield {"checkpoint": checkpoint, "kind": "looked", "level": level}
    for reason, checkpoints in submission.get("could_not_look", {}).items():
        for checkpoint in checkpoints:
            yield {"checkpoint": checkpoint, "kind": "could_not_look", "reason": reason}
    for finding in submission.get("findings", ()):
        yield {"kind": "looked", **finding}


def moment(now: datetime, entry: Table, time_zone: str) -> str:
    """The moment `days_ago` at `hour` o'clock in the yard."""
    then = now.astimezone(ZoneInfo(time_zone)) - timedelta(days=entry["days_ago"])
    return then.replace(hour=entry["hour"], minute=0, second=0, microsecond=0).isoformat()


def day(now: datetime, *, ago: int = 0, ahead: int = 0) -> str:
    return (now - timedelta(days=ago) + timedelta(days=ahead)).date().isoformat()
