"""Adds headers and all refusals to the generated OpenAPI document."""

from typing import Any

from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter

from apps.http.problems import CONTENT_TYPE

IF_MATCH = OpenApiParameter(
    "If-Match",
    str,
    OpenApiParameter.HEADER,
    required=True,
    description="the ETag read before; 428 without it",
)
IF_MATCH_OR_FIRST = OpenApiParameter(
    "If-Match",
    str,
    OpenApiParameter.HEADER,
    description="the ETag read before, unless there was nothing to read; 428 without it",
)
IDEMPOTENCY_KEY = OpenApiParameter(
    "Idempotency-Key",
    str,
    OpenApiParameter.HEADER,
    description="up to 255 characters; a repeat with the same body gets the first answer",
)

PROBLEM_SCHEMA = {
    "type": "object",
    "description": "Why the request was refused (RFC 9457).",
    "required": ["type", "title", "status", "code", "detail"],
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "code": {"type": "string", "description": "stable, for programs"},
        "detail": {"type": "string", "description": "a sentence, for people"},
        "roles": {"type": "array", "items": {"type": "string"}, "description": "who could"},
        "scope": {"type": "string", "description": "what the token lacks"},
        "request_id": {"type": "string", "description": "the request in the service's log"},
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["pointer", "code", "detail"],
                "properties": {
                    "pointer": {
                        "type": "string",
                        "description": "JSON pointer (RFC 6901) into the body sent, or ?name",
                    },
                    "code": {"type": "string"},
                    "detail": {"type": "string"},
                },
            },
        },
    },
}

REFUSALS = {
    "400": "The body cannot be read.",
    "401": "No valid token was sent.",
    "403": "You see it but may not do this: `roles` says who could, `scope` what the token lacks.",
    "404": "There is no such thing, or not for you.",
    "405": "The method is not allowed here.",
    "406": "No such form of answer.",
    "409": "It contradicts what is stored, or the first request with this key still runs.",
    "410": "The record is not kept any more.",
    "411": "The body came in chunks, without Content-Length.",
    "412": "Changed since you read it.",
    "413": "Too large.",
    "415": "The media type of the body is not the one named here.",
    "422": "Some fields or parameters cannot be accepted; `errors` points to each.",
    "428": "If-Match is missing.",
    "429": "Too many requests; Retry-After says when.",
    "503": "This does not work at the moment; Retry-After says when to try again.",
    "507": "There is no room for the file; Retry-After says when to try again.",
}
READ_REFUSALS = ("401", "403", "404", "406", "422", "429", "503")
WRITE_REFUSALS = (
    "400",
    "401",
    "403",
    "404",
    "406",
    "409",
    "411",
    "413",
    "415",
    "422",
    "429",
    "503",
)


class Schema(AutoSchema):
    """Adds the headers and parameters that the base view reads to each operation."""

    def get_override_parameters(self) -> list[Any]:
        parameters = list(super().get_override_parameters())
        query = getattr(self.view, "query_serializer", None)
        if self.method == "GET" and query is not None:
            parameters.append(query)
        # An anonymous repeat cannot be recognised.
        if self.method == "POST" and getattr(self.view, "atomic_writes", True) and self.get_auth():
            parameters.append(IDEMPOTENCY_KEY)
        if self.method in getattr(self.view, "versioned_methods", ("PUT", "PATCH", "DELETE")):
            makes_it = self.method == "PUT" and getattr(self.view, "put_makes", False)
            parameters.append(IF_MATCH_OR_FIRST if makes_it else IF_MATCH)
        return parameters


def document_problems(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Add every possible refusal to each operation."""
    result.setdefault("components", {}).setdefault("schemas", {})["Problem"] = PROBLEM_SCHEMA
    content = {CONTENT_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    for path in result["paths"].values():
        for method, operation in path.items():
            if method not in ("get", "post", "put", "patch", "delete"):
                continue
            codes = list(READ_REFUSALS if method == "get" else WRITE_REFUSALS)
            headers = {p["name"] for p in operation.get("parameters", []) if p["in"] == "header"}
            if "If-Match" in headers:
                codes += ["412", "428"]
            if method == "get":
                operation["responses"].setdefault("304", {"description": "Not changed."})
            answers = operation["responses"]
            # Operations name refusals that only some of them give, without content.
            codes += [code for code in answers if code in REFUSALS]
            for code in codes:
                if "content" not in answers.get(code, {}):
                    answers[code] = {"description": REFUSALS[code], "content": content}
    return result


def leave_null_out_of_queries(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Remove null from query parameters: a query string leaves a value out instead."""
    for path in result["paths"].values():
        for operation in path.values():
            for parameter in operation.get("parameters", []):
                schema = parameter["schema"]
                if parameter["in"] == "query" and "null" in schema.get("type", ()):
                    (schema["type"],) = set(schema["type"]) - {"null"}
                    if "enum" in schema:
                        schema["enum"] = [value for value in schema["enum"] if value is not None]
    return result


def allow_overlapping_forms(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Say anyOf of answers in one of several forms: one may satisfy the schemas of two."""
    for schema in result["components"]["schemas"].values():
        if "oneOf" in schema and "discriminator" not in schema:
            schema["anyOf"] = schema.pop("oneOf")
    return result
