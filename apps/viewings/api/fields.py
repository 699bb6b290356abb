"""A field that viewings and their findings share."""

from typing import Any

from rest_framework import serializers


class OptionalWord(serializers.ChoiceField):
    """One of a few words, or null if unknown; null is stored as empty text."""

    def __init__(self, choices: Any, **options: Any) -> None:
        super().__init__(choices, **{"allow_null": True, "required": False, **options})

    def validate_empty_values(self, data: Any) -> tuple[bool, Any]:
        if data is None:
            return True, ""
        return super().validate_empty_values(data)

    def to_representation(self, value: str) -> Any:
        return value or None
