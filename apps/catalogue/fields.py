"""Limits of values in the catalogue: each annotates the type of a field in content.py.

Numbers and texts are not converted: "3" is no number, and neither is infinity or true. The same
types read clubs' stored entries, so a limit may be widened but never narrowed.
"""

from collections.abc import Collection
from typing import Annotated, Any

from pydantic import ConfigDict, Field, GetPydanticSchema
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from apps.catalogue.vocabulary import PARTICULARS


class Entry:
    """A dataclass that is read from a table of a file or from JSON; unknown names are refused."""

    __pydantic_config__ = ConfigDict(extra="forbid")


def meaning(description: str) -> Any:
    """The meaning of the field, for the API's documentation."""
    return Field(description=description)


def text(longest: int = 200, pattern: str | None = None) -> Any:
    return Field(strict=True, min_length=1, max_length=longest, pattern=pattern)


def number(lowest: float | None = None, highest: float | None = None) -> Any:
    return Field(strict=True, allow_inf_nan=False, ge=lowest, le=highest)


def whole(lowest: int, highest: int) -> Any:
    integer = core_schema.int_schema(strict=True, ge=lowest, le=highest)
    schema = core_schema.no_info_before_validator_function(_without_fraction, integer)
    return GetPydanticSchema(lambda *_: schema)


def _without_fraction(given: Any) -> Any:
    """JSON Schema takes 2.0 for an integer."""
    return int(given) if isinstance(given, float) and given.is_integer() else given


def one_of(words: Collection[str]) -> Any:
    schema = core_schema.custom_error_schema(
        core_schema.literal_schema(list(words)),
        custom_error_type="invalid_choice",
        custom_error_message="is none of {words}",
        custom_error_context={"words": ", ".join(map(repr, words))},
    )
    return GetPydanticSchema(lambda *_: schema)


def many(of: str, least: int = 0, most: int | None = None, *, unique: bool = False) -> Any:
    """Limits of the number of items, and whether they must be unique. of: name of the items."""

    def counted(given: Any) -> Any:
        has = len(given)
        wanted = least if has < least else most if most is not None and has > most else has
        if wanted != has:
            raise refusal("wrong_count", f"needs {wanted} {of}, has {has}")
        if unique and len(set(given)) < has:
            raise refusal("wrong_count", f"has the same twice among its {of}")
        return given

    def described(core: CoreSchema, handler: Any) -> Any:
        shape = handler(core)
        what = "Items" if shape["type"] == "array" else "Properties"
        bounds = {f"min{what}": least or None, f"max{what}": most, "uniqueItems": unique or None}
        payload = {name: bound for name, bound in bounds.items() if bound is not None}
        return {**shape, "title": of, **payload}

    return GetPydanticSchema(
        lambda source, handler: core_schema.no_info_after_validator_function(
            counted, handler(source)
        ),
        described,
    )


def refusal(code: str, phrase: Any) -> PydanticCustomError:
    return PydanticCustomError(code, phrase)


def never_null() -> Any:
    """For a field that may be left out and is then None; an explicit null is refused."""
    return GetPydanticSchema(lambda source, handler: handler(source)["schema"])


def particulars() -> Any:
    """The values that each particular of a boat may have."""

    def of(values: tuple[str, ...]) -> Any:
        return Annotated[
            tuple[Annotated[str, one_of(values)], ...], many("values", least=1, unique=True)
        ]

    return GetPydanticSchema(
        lambda _, handler: core_schema.typed_dict_schema(
            {
                name: core_schema.typed_dict_field(
                    handler.generate_schema(of(values)), required=False
                )
                for name, values in PARTICULARS.items()
            },
            extra_behavior="forbid",
        )
    )
