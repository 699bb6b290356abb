"""Reads query strings: unknown names and bad values are refused by name."""

from copy import deepcopy
from functools import cache
from typing import Any

from django.http import QueryDict
from rest_framework import serializers

from apps.common.errors import FieldFault, Invalid
from apps.http.problems import flatten

QuerySerializer = type[serializers.Serializer[Any]]


def query_read(serializer_class: QuerySerializer | None, sent: QueryDict) -> dict[str, Any]:
    """The validated parameters. Raises `Invalid`, which points to each that is refused."""
    if not sent and (unasked := _without_parameters(serializer_class)) is not None:
        return deepcopy(unasked)
    query = serializer_class(data=sent.dict()) if serializer_class else None
    known = query.fields if query else {}
    faults = [
        FieldFault(f"?{name}", "unknown_parameter", f"There is no parameter {name!r} here.")
        for name in sent
        if name not in known
    ]
    if faults:
        raise Invalid(faults)
    if query is None:
        return {}
    if not query.is_valid():
        found = flatten(serializers.ValidationError(query.errors).get_full_details(), "")
        raise Invalid([FieldFault(f"?{f.pointer[1:]}", f.code, f.detail) for f in found])
    checked: dict[str, Any] = query.validated_data
    return checked


@cache
def _without_parameters(serializer_class: QuerySerializer | None) -> dict[str, Any] | None:
    """What a query without parameters means; None if it is refused.

    Most requests have none, and a serializer copies all its fields for each. Defaults are
    constants, so they are read once.
    """
    if serializer_class is None:
        return {}
    query = serializer_class(data={})
    return dict(query.validated_data) if query.is_valid() else None
