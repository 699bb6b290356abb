"""Read, write and check documents by the types of the content.

A document is the content of a file or a request: tables, lists, texts and numbers.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, dataclass, fields
from functools import cache
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError
from pydantic.json_schema import GenerateJsonSchema
from pydantic_core import ErrorDetails

from apps.catalogue.fields import Entry

Document = dict[str, Any]
T = TypeVar("T", bound=Entry)


adapter: Callable[[Any], TypeAdapter[Any]] = cache(TypeAdapter)


@dataclass(frozen=True)
class SchemaFault:
    """path: to the value, or to the missing or unknown key. phrase: "lacks weight"."""

    path: tuple[str | int, ...]
    code: str
    phrase: str


def read(kind: type[T], payload: Mapping[str, Any]) -> T:
    """The content of a document without faults."""
    found: T = adapter(kind).validate_python(payload)
    return found


def faults(kind: type[Entry], payload: Any) -> Iterator[SchemaFault]:
    """All faults of a document as content of this kind."""
    try:
        adapter(kind).validate_python(payload)
    except ValidationError as refused:
        yield from map(_fault, refused.errors(include_url=False))


def dump(thing: Entry) -> Document:
    """The document of a content value, with all fields."""
    payload: Document = adapter(type(thing)).dump_python(thing, mode="json", exclude_none=True)
    return payload


def write(thing: Entry) -> Document:
    """The same document without optional fields that are empty."""
    payload = dump(thing)
    optional = {field.name for field in fields(thing) if not _needed(field)}  # type: ignore[arg-type]  # each is a dataclass
    return {name: value for name, value in payload.items() if value or name not in optional}


def _needed(field: Any) -> bool:
    return field.default is MISSING and field.default_factory is MISSING


# --- Words for faults ----------------------------------------------------------------------------

# By the library's name for a fault: our code for it, and the words.
PHRASES = {
    "missing": ("required", "lacks {key}"),
    "unexpected_keyword_argument": ("unknown_field", "does not know {key}"),
    "extra_forbidden": ("unknown_field", "does not know {key}"),
    "invalid_choice": ("invalid_choice", "{given!r} {message}"),
    "greater_than_equal": ("out_of_bounds", "must be at least {ge:g}, is {figure}"),
    "less_than_equal": ("out_of_bounds", "must be at most {le:g}, is {figure}"),
    "string_too_short": ("wrong_count", "may not be empty"),
    "string_too_long": ("wrong_count", "may have {max_length} characters"),
    "wrong_count": ("wrong_count", "{message}"),
    "contradiction": ("invalid", "{message}"),
    "out_of_order": ("out_of_order", "{message}"),
    "string_pattern_mismatch": ("invalid", "{given!r} does not match {pattern!r}"),
    "finite_number": ("invalid", "{given!r} is not of type 'number'"),
    "float_type": ("invalid", "must be a number"),
    "int_type": ("invalid", "must be a whole number"),
    "bool_type": ("invalid", "must be true or false"),
    "string_type": ("invalid", "must be text"),
    "tuple_type": ("invalid", "must be a list"),
    "dict_type": ("invalid", "must be an object, or a table"),
    "dataclass_type": ("invalid", "must be an object, or a table"),
}


def _fault(error: ErrorDetails) -> SchemaFault:
    path, given, message = error["loc"], error["input"], error["msg"]
    if path[-1:] == ("[key]",):
        return SchemaFault(path[:-1], "unknown_field", f"does not know {path[-2]}")
    code, phrase = PHRASES.get(error["type"], ("invalid", "{message}"))
    key = path[-1] if path else ""
    words = {"key": key, "given": given, "figure": _figure(given), "message": message}
    return SchemaFault(path, code, phrase.format(**words, **error.get("ctx", {})))


def _figure(given: Any) -> str:
    if not isinstance(given, int | float):
        return ""
    return f"{given:g}" if abs(given) < 1e300 else "far beyond"  # too large for a float


# --- As JSON Schema ------------------------------------------------------------------------------


class _Plain(GenerateJsonSchema):
    """JSON Schema without the titles, defaults and descriptions that come from the code."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False

    def default_schema(self, schema: Any) -> Document:
        return self.generate_inner(schema["schema"])

    def dataclass_schema(self, schema: Any) -> Document:
        shape = super().dataclass_schema(schema)
        return {name: shape[name] for name in shape if name not in ("title", "description")}


def _json_schema(kind: type[Entry]) -> Document:
    shape = adapter(kind).json_schema(schema_generator=_Plain)
    whole: Document = _inlined(shape, shape.pop("$defs", {}))
    return whole


# The shape of a type's documents (draft 2020-12), without references.
json_schema: Callable[[Any], Document] = cache(_json_schema)


def _inlined(part: Any, definitions: Document) -> Any:
    if isinstance(part, list):
        return [_inlined(each, definitions) for each in part]
    if not isinstance(part, dict):
        return part
    if "$ref" in part:
        beside = {name: part[name] for name in part if name != "$ref"}
        part = {**definitions[part["$ref"].rpartition("/")[2]], **beside}
    return {name: _inlined(value, definitions) for name, value in part.items()}
