"""Bodies that lose nothing that somebody meant to say."""

from collections.abc import Mapping
from typing import Any

from drf_spectacular.extensions import OpenApiSerializerExtension
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError


class StrictBody(serializers.Serializer):
    """A body in which a misspelt field is refused by name instead of being lost."""

    def to_internal_value(self, data: Any) -> Any:
        unknown = {}
        if isinstance(data, Mapping):
            unknown = {
                name: [ErrorDetail(f"There is no field {name!r} here.", code="unknown_field")]
                for name in data
                if name not in self.fields
            }
        try:
            known = super().to_internal_value(data)
        except ValidationError as error:
            raise ValidationError({**error.detail, **unknown}) from error
        if unknown:
            raise ValidationError(unknown)
        return known


class StrictBodyExtension(OpenApiSerializerExtension):
    """Says so in the schema."""

    target_class = StrictBody
    match_subclasses = True

    def map_serializer(self, auto_schema: Any, direction: Any) -> dict[str, Any]:
        schema = auto_schema._map_serializer(self.target, direction, bypass_extensions=True)
        return {**schema, "additionalProperties": False}
