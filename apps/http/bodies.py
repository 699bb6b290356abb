"""Bodies that refuse unknown fields."""

from collections.abc import Mapping
from typing import Any

from drf_spectacular.extensions import OpenApiSerializerExtension
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from apps.common.errors import FieldFault

NO_FIELD = "There is no field {!r} here."


def unknown_field(pointer: str, name: str) -> FieldFault:
    return FieldFault(pointer, "unknown_field", NO_FIELD.format(name))


class StrictBody(serializers.Serializer[Any]):
    """A body that refuses unknown fields by name, so that a misspelt one is not lost.

    Every body of a request is one of these, at every depth.
    """

    def to_internal_value(self, data: Any) -> Any:
        unknown = {}
        if isinstance(data, Mapping):
            unknown = {
                name: [ErrorDetail(NO_FIELD.format(name), code="unknown_field")]
                for name in data
                if name not in self.fields
            }
        try:
            known = super().to_internal_value(data)
        except ValidationError as error:
            if not isinstance(error.detail, dict):
                raise
            refused = {
                name: with_choices(self.fields.get(name), detail)
                for name, detail in error.detail.items()
            }
            raise ValidationError({**refused, **unknown}) from error
        if unknown:
            raise ValidationError(unknown)
        return known


def with_choices(field: serializers.Field[Any, Any, Any, Any] | None, detail: Any) -> Any:
    """The same refusal with the allowed choices, which the framework's own lacks."""
    if isinstance(detail, Mapping) and not isinstance(field, serializers.BaseSerializer):
        child = getattr(field, "child", None)
        return {key: with_choices(child, inner) for key, inner in detail.items()}
    if isinstance(detail, list) and isinstance(field, serializers.ChoiceField):
        one_of = f"One of: {', '.join(str(choice) for choice in field.choices)}."
        return [
            ErrorDetail(f"{one} {one_of}", code=one.code) if one.code == "invalid_choice" else one
            for one in detail
        ]
    return detail


class StrictBodyExtension(OpenApiSerializerExtension):  # type: ignore[no-untyped-call]  # the base is untyped
    """Marks such bodies in the schema: no additional properties."""

    target_class = StrictBody
    match_subclasses = True

    def map_serializer(self, auto_schema: Any, direction: Any) -> dict[str, Any]:
        schema = auto_schema._map_serializer(self.target, direction, bypass_extensions=True)
        return {**schema, "additionalProperties": False}
