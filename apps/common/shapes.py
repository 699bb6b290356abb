"""Reads stored JSON from any version of the service, as far as possible.

A shape is a TypedDict. A missing or misshapen value becomes None if the shape allows None, and is
left out if the shape allows that: a key that is `NotRequired`, or a line of a `Lines` list.
Otherwise the value around it is unreadable too, up to the next place that may be missing: an
incomplete list of reasons or doubts would say less than was found. Keys that a shape does not have
are dropped.
"""

import types
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import cache
from typing import (
    Annotated,
    Any,
    Generic,
    Literal,
    NotRequired,
    Required,
    TypedDict,
    TypeVar,
    Union,
    get_args,
    get_origin,
    get_type_hints,
    is_typeddict,
)

T = TypeVar("T")


def _decimal(text: str) -> object:
    return Decimal(text)


# Text with a format: the function raises ValueError for other text.
Id = Annotated[str, uuid.UUID]
DecimalText = Annotated[str, _decimal]
Moment = Annotated[str, datetime.fromisoformat]  # or a day
LINE_BY_LINE = "line by line"
# Lists and mappings that are still usable without some or all of their entries.
Lines = Annotated[list[T], LINE_BY_LINE]
Entries = Annotated[dict[str, T], LINE_BY_LINE]


class IdAndName(TypedDict):
    """How answers name the club, list or boat that they are about."""

    id: Id
    name: str


@dataclass(frozen=True)
class Found(Generic[T]):
    """A stored value as read; None if unreadable. left_out: places where something is missing."""

    value: T | None
    left_out: tuple[str, ...] = ()


def found(shape: type[T], stored: object) -> Found[T]:
    """The readable part of a stored value in this shape. `stored` is not changed."""
    left_out: list[str] = []
    hint: Any = shape  # like those inside it
    try:
        value = _reader(hint)(stored, left_out)
    except UnreadableShape as fault:
        return Found(None, (fault.at,))
    return Found(value, tuple(left_out))


class UnreadableShape(Exception):
    """`at`: keys from the outside in, as 'rows.advice.code'."""

    at = ""

    def under(self, key: str) -> "UnreadableShape":
        self.at = f"{key}.{self.at}" if self.at else key
        return self


# Returns the value as read, and appends places left out. Raises `UnreadableShape`.
Reader = Callable[[Any, list[str]], Any]


@cache
def _reader(shape: Any) -> Reader:
    if is_typeddict(shape):
        return _object(shape)
    origin, parts = get_origin(shape), get_args(shape)
    if origin in (NotRequired, Required):
        return _reader(parts[0])
    if origin is Annotated:
        return _line_by_line(parts[0]) if parts[1] == LINE_BY_LINE else _text(parts[1])
    if origin is Literal:
        return _one_of(parts)
    if origin in (Union, types.UnionType):
        return _either(parts)
    if origin is list:
        return _list(_reader(parts[0]))
    if origin is tuple:
        return _tuple([_reader(part) for part in parts])
    if origin is dict:
        return _map(_reader(parts[1]))
    return _scalar(shape)


def _object(shape: Any) -> Reader:
    hints = get_type_hints(shape, include_extras=True)
    fields = [
        (name, _reader(hint), _if_missing(hint, required=name in shape.__required_keys__))
        for name, hint in hints.items()
    ]

    def read(value: Any, left_out: list[str]) -> Any:
        if not isinstance(value, dict):
            raise UnreadableShape
        whole = {}
        for name, reader, missing in fields:
            if name not in value and missing is GONE:
                continue
            try:
                whole[name] = _within(reader, value.get(name, MISSING), name, left_out)
            except UnreadableShape as fault:
                if missing is NEEDED:
                    raise
                left_out.append(fault.at)
                if missing is not GONE:
                    whole[name] = missing()
        return whole

    return read


NEEDED, GONE = object(), object()  # what to do about a missing key
MISSING = object()  # no shape accepts it


def _if_missing(hint: Any, *, required: bool) -> Any:
    """What to do about a missing key: a function that makes a value, `GONE` or `NEEDED`."""
    if not required:
        return GONE
    if get_origin(hint) is Annotated and LINE_BY_LINE in get_args(hint):
        return get_origin(get_args(hint)[0])
    if hint is types.NoneType or types.NoneType in get_args(hint):
        return types.NoneType
    return NEEDED


def _line_by_line(shape: Any) -> Reader:
    of, parts = get_origin(shape), get_args(shape)
    reader = _reader(parts[-1])

    def read(value: Any, left_out: list[str]) -> Any:
        if not isinstance(value, of):
            raise UnreadableShape
        kept = {}
        for key, line in value.items() if of is dict else enumerate(value):
            try:
                kept[key] = _within(reader, line, str(key), left_out)
            except UnreadableShape as fault:
                left_out.append(fault.at)
        return kept if of is dict else list(kept.values())

    return read


def _list(reader: Reader) -> Reader:
    def read(value: Any, left_out: list[str]) -> Any:
        if not isinstance(value, list):
            raise UnreadableShape
        return [_within(reader, one, str(n), left_out) for n, one in enumerate(value)]

    return read


def _tuple(readers: list[Reader]) -> Reader:
    """A reader of a tuple, which is a JSON list of fixed length."""

    def read(value: Any, left_out: list[str]) -> Any:
        if not isinstance(value, list) or len(value) != len(readers):
            raise UnreadableShape
        both = enumerate(zip(readers, value, strict=True))
        return [_within(reader, one, str(n), left_out) for n, (reader, one) in both]

    return read


def _map(reader: Reader) -> Reader:
    def read(value: Any, left_out: list[str]) -> Any:
        if not isinstance(value, dict):
            raise UnreadableShape
        return {key: _within(reader, one, key, left_out) for key, one in value.items()}

    return read


def _within(reader: Reader, value: Any, key: str, left_out: list[str]) -> Any:
    inside: list[str] = []
    try:
        read = reader(value, inside)
    except UnreadableShape as fault:
        raise fault.under(key) from None
    left_out += [f"{key}.{at}" for at in inside]
    return read


def _either(parts: tuple[Any, ...]) -> Reader:
    """A reader of a union: the first type that fits; None if allowed and none fits."""
    readers = [_reader(part) for part in parts if part is not types.NoneType]
    may_be_none = types.NoneType in parts

    def read(value: Any, left_out: list[str]) -> Any:
        if value is None and may_be_none:
            return None
        for reader in readers:
            inside: list[str] = []
            try:
                fitting = reader(value, inside)
            except UnreadableShape:
                continue
            left_out += inside
            return fitting
        raise UnreadableShape

    return read


def _one_of(words: tuple[Any, ...]) -> Reader:
    def read(value: Any, left_out: list[str]) -> Any:
        if isinstance(value, str | int) and value in words:
            return value
        raise UnreadableShape

    return read


def _anything(value: Any, left_out: list[str]) -> Any:
    if value is MISSING:
        raise UnreadableShape
    return value


def _text(taken_by: Callable[[str], object]) -> Reader:
    def read(value: Any, left_out: list[str]) -> Any:
        if not isinstance(value, str):
            raise UnreadableShape
        try:
            taken_by(value)
        except (ValueError, ArithmeticError):
            raise UnreadableShape from None
        return value

    return read


# The JSON values of a type. A whole number is accepted as a float; true is no number.
JSON_TYPES: dict[Any, tuple[type, ...]] = {
    str: (str,),
    bool: (bool,),
    int: (int,),
    float: (int, float),
    types.NoneType: (types.NoneType,),
}


def _scalar(shape: Any) -> Reader:
    if shape is Any:
        return _anything
    allowed = JSON_TYPES[shape]
    numeric = int in allowed

    def read(value: Any, left_out: list[str]) -> Any:
        if not isinstance(value, allowed) or (numeric and isinstance(value, bool)):
            raise UnreadableShape
        return value

    return read
