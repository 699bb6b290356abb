"""Takes bodies apart: their objects, and which of them accept unknown fields."""

from collections.abc import Iterator
from typing import Any

from tests.system.operations import resolved


def objects_in(body: Any, at: str = "") -> Iterator[str]:
    """JSON pointers to every object, of each array's first item only."""
    if isinstance(body, dict):
        yield at
        for name, inner in body.items():
            yield from objects_in(inner, f"{at}/{name}")
    elif isinstance(body, list):
        for first in body[:1]:
            yield from objects_in(first, f"{at}/0")


def with_field(body: Any, at: str, name: str) -> Any:
    """The body with one more field in the object that the pointer names."""
    if not at:
        return {**body, name: "x"}
    first, _, rest = at[1:].partition("/")
    rest = rest and f"/{rest}"
    if isinstance(body, list):
        return [with_field(body[0], rest, name), *body[1:]]
    return {**body, first: with_field(body[first], rest, name)}


def faults_told(answer: Any) -> set[tuple[str, str]]:
    """Pointers and codes of a refusal, or of all parts of a batch."""
    said = answer.json()
    refusals = [said] if answer.status_code == 422 else [one["problem"] for one in said["results"]]
    return {(fault["pointer"], fault["code"]) for one in refusals if one for fault in one["errors"]}


def open_objects(schema: dict[str, Any], at: str = "") -> Iterator[str]:
    """Pointers to the objects of a schema that accept unknown fields."""
    schema = resolved(schema)
    if "properties" in schema and schema.get("additionalProperties") is not False:
        yield at
    for name, inner in schema.get("properties", {}).items():
        yield from open_objects(inner, f"{at}/{name}")
    for inner in (schema.get("items"), schema.get("additionalProperties")):
        if isinstance(inner, dict):
            yield from open_objects(inner, f"{at}/*")
    for inner in (*schema.get("oneOf", ()), *schema.get("anyOf", ()), *schema.get("allOf", ())):
        yield from open_objects(inner, at)
