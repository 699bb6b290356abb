"""Summaries, tags and examples of the API's operations, for the OpenAPI document."""

import json
import tomllib
from functools import cache
from pathlib import Path
from typing import Any, TypedDict

SUMMARIES = Path(__file__).parent / "operations.toml"
# Bodies by operation id, of those whose views show none.
EXAMPLES = Path(__file__).parent / "examples.json"


class Tag(TypedDict):
    """One step of the job: its operations with their summaries, in reading order."""

    name: str
    description: str
    operations: dict[str, str]


@cache
def tags() -> list[Tag]:
    made: list[Tag] = tomllib.loads(SUMMARIES.read_text())["tag"]
    return made


@cache
def examples() -> dict[str, Any]:
    made: dict[str, Any] = json.loads(EXAMPLES.read_text())
    return made


def describe_operations(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Give each operation its summary, its tag and an example of its body."""
    result["tags"] = [{"name": one["name"], "description": one["description"]} for one in tags()]
    known = {id: (one["name"], text) for one in tags() for id, text in one["operations"].items()}
    for methods in result["paths"].values():
        for operation in methods.values():
            id = operation["operationId"]
            if id in known:
                tag, operation["summary"] = known[id]
                operation["tags"] = [tag]
            # Said in so many words, because a signed-in person may call it too.
            operation.setdefault("security", [])
            if id in examples():
                for content in operation["requestBody"]["content"].values():
                    content["example"] = examples()[id]
    return result
