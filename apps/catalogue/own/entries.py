"""Faults in the shape of an owner's entry, each with a pointer."""

from collections.abc import Iterator

from apps.catalogue import schema
from apps.catalogue.own.kinds import KINDS
from apps.catalogue.schema import Document, SchemaFault
from apps.common.errors import FieldFault

# The code is in the address; any code will do for the check of the shape.
ANY_CODE = {"code": "any"}


def entry_faults(kind: str, own: Document, *, over: bool, at: str = "/own") -> Iterator[FieldFault]:
    """The faults in the shape of an entry of this kind. over: one that is overlaid on another."""
    of = KINDS[kind]
    partly = over and not of.is_whole
    if partly and not own:
        yield FieldFault(at, "wrong_count", "It says nothing.")
    unknown = [name for name in own if name == "code" or (partly and not of.may_change(name))]
    found = [SchemaFault((name,), "unknown_field", "") for name in unknown]
    found += schema.faults(of.type, {**own, **ANY_CODE})
    for fault in found:
        if not (partly and fault.code == "required" and len(fault.path) == 1):
            yield FieldFault(
                at + "".join(f"/{step}" for step in fault.path), fault.code, _detail(fault)
            )


def _detail(fault: SchemaFault) -> str:
    match fault.code:
        case "required":
            return "This is needed."
        case "unknown_field":
            return "There is no such field."
        case "invalid_choice" | "out_of_order":
            return f"{fault.phrase[0].upper()}{fault.phrase[1:]}."
    return f"It {fault.phrase}."
