"""The OpenAPI document for tests: its operations, their declarations, validation of answers."""

import json
import re
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any

from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.renderers import OpenApiJsonRenderer
from jsonschema import Draft202012Validator
from jsonschema.exceptions import best_match

METHODS = ("get", "post", "put", "patch", "delete")


@cache
def document() -> dict[str, Any]:
    made = SchemaGenerator().get_schema(public=True)
    return json.loads(OpenApiJsonRenderer().render(made, renderer_context={}))


@cache
def operations() -> dict[str, "Operation"]:
    """By operation id, in the document's order."""
    return {
        spec["operationId"]: Operation(spec["operationId"], method.upper(), path, spec)
        for path, methods in document()["paths"].items()
        for method, spec in methods.items()
        if method in METHODS
    }


@dataclass(frozen=True, eq=False)
class Operation:
    id: str
    method: str
    path: str
    spec: dict[str, Any]

    def parameters(self, where: str) -> set[str]:
        return {p["name"] for p in self.spec.get("parameters", ()) if p["in"] == where}

    @property
    def writes(self) -> bool:
        return self.method != "GET"

    @property
    def takes_version(self) -> bool:
        return "If-Match" in self.parameters("header")

    @property
    def takes_key(self) -> bool:
        return "Idempotency-Key" in self.parameters("header")

    @property
    def takes_body(self) -> bool:
        return "requestBody" in self.spec

    @property
    def takes_form(self) -> bool:
        return "multipart/form-data" in self.spec.get("requestBody", {}).get("content", {})

    @cached_property
    def is_collection(self) -> bool:
        """Whether it answers with a collection."""
        if self.writes:
            return False
        schemas = [resolved(schema) for schema in self._schemas("200").values()]
        schemas += [resolved(one) for schema in schemas for one in schema.get("anyOf", ())]
        return any("results" in schema.get("properties", ()) for schema in schemas)

    @property
    def scope(self) -> str | None:
        """The scope that a limited token needs; None if no limited token is enough."""
        return next((s for need in self.spec["security"] for s in need.get("program", ())), None)

    def _schemas(self, status: str) -> dict[str, dict[str, Any]]:
        content = self.spec["responses"][status].get("content", {})
        return {media: said.get("schema", {}) for media, said in content.items()}

    def faults_of(self, answer: Any) -> list[str]:
        """The faults of a Django response against the document."""
        status = str(answer.status_code)
        if status not in self.spec["responses"]:
            return [f"{status} is not documented"]
        schemas = self._schemas(status)
        if not schemas:
            return ["a body is not documented"] if answer.content else []
        media = answer["Content-Type"].partition(";")[0]
        if media not in schemas:
            return [f"{media} is not documented"]
        if not media.endswith("json"):
            return []
        worst = best_match(validator(json.dumps(schemas[media])).iter_errors(answer.json()))
        return [f"{status} {worst.json_path}: {worst.message[:200]}"] if worst else []


@cache
def validator(schema: str) -> Draft202012Validator:
    """The validator of a schema of the document, given as JSON."""
    whole = {**json.loads(schema), "components": document()["components"]}
    return Draft202012Validator(whole, format_checker=Draft202012Validator.FORMAT_CHECKER)


def resolved(schema: dict[str, Any]) -> dict[str, Any]:
    if "$ref" not in schema:
        return schema
    return document()["components"]["schemas"][schema["$ref"].rpartition("/")[2]]


def filled(path: str, ids: dict[str, str], renamed: dict[str, str]) -> str:
    """A path filled with ids, by the names of its parameters or their replacements."""
    return re.sub(r"\{(\w+)\}", lambda m: ids[renamed.get(m[1], m[1])], path)
