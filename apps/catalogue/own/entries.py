"""The shape of what somebody says of a thing, with a pointer to each fault."""

from collections.abc import Iterator
from typing import Any

from jsonschema import ValidationError

from apps.catalogue.own.kinds import KINDS, Document
from apps.catalogue.reading import Validator, phrase
from apps.common.errors import FieldFault


def entry_faults(kind: str, own: Document, *, over: bool, at: str = "/own") -> Iterator[FieldFault]:
    """What keeps an entry from having the shape of its kind. over: one laid over another."""
    shape = KINDS[kind].over if over else KINDS[kind].whole
    for error in Validator(shape).iter_errors(own):
        yield from _faults_of(error, at + "".join(f"/{step}" for step in error.absolute_path))


def _faults_of(error: ValidationError, at: str) -> Iterator[FieldFault]:
    given: Any = error.instance
    wanted: Any = error.validator_value
    detail = f"It {phrase(error)}." if error.validator != "enum" else f"{phrase(error)}."
    match error.validator:
        case "required":
            for name in wanted:
                if name not in given:
                    yield FieldFault(f"{at}/{name}", "required", "This is needed.")
        case "additionalProperties":
            known = error.schema["properties"]  # type: ignore[index]  # a mapping here
            for name in given:
                if name not in known:
                    yield FieldFault(f"{at}/{name}", "unknown_field", "There is no such field.")
        case "enum":
            yield FieldFault(at, "invalid_choice", detail)
        case "minimum" | "maximum":
            yield FieldFault(at, "out_of_bounds", detail)
        case "minItems" | "maxItems" | "uniqueItems" | "minLength" | "maxLength" | "minProperties":
            yield FieldFault(at, "wrong_count", detail)
        case _:
            yield FieldFault(at, "invalid", error.message)
