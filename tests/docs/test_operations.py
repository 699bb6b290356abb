"""The summaries, tags and examples of the OpenAPI document are those of today's operations."""

import json
from typing import Any

from server.docs.operations import EXAMPLES, examples, tags
from tests.system.operations import document, operations, validator

WORDS = range(3, 8)


def summaries() -> dict[str, str]:
    return {id: text for tag in tags() for id, text in tag["operations"].items()}


def test_every_operation_has_its_summary_and_every_summary_its_operation():
    missing = operations().keys() - summaries().keys()
    assert not missing, "name these in server/docs/operations.toml"
    assert not summaries().keys() - operations().keys()
    assert sum(len(tag["operations"]) for tag in tags()) == len(operations()), "named once"


def test_summaries_are_short_and_no_two_are_the_same():
    assert not [text for text in summaries().values() if len(text.split()) not in WORDS]
    assert len(set(summaries().values())) == len(summaries())


def test_every_tag_is_declared_with_what_it_is_for():
    declared = {tag["name"] for tag in document()["tags"] if tag["description"]}
    used = {tag for operation in operations().values() for tag in operation.spec["tags"]}
    assert used == declared


def test_the_document_says_where_it_is_served_and_by_whom(settings):
    assert document()["servers"][0]["url"] == settings.PUBLIC_URL
    assert document()["info"]["contact"]["url"] == settings.PUBLIC_URL


def shown(content: dict[str, Any]) -> list[Any]:
    """The examples of a body."""
    single = [content["example"]] if "example" in content else []
    return single + [one["value"] for one in content.get("examples", {}).values()]


def test_every_body_has_an_example_that_its_schema_accepts():
    for operation in operations().values():
        for content in operation.spec.get("requestBody", {}).get("content", {}).values():
            assert shown(content), f"add one of {operation.id} to {EXAMPLES.name}"
            for example in shown(content):
                check = validator(json.dumps(content["schema"]))
                assert not [f"{operation.id}: {f.message}" for f in check.iter_errors(example)]


def test_no_example_is_left_over():
    assert examples().keys() <= {o.id for o in operations().values() if o.takes_body}
