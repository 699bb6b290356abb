"""Fields of money and text."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any, TypeAlias

import pycountry
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.http.bodies import StrictBody

# A field of any type.
AnyField: TypeAlias = serializers.Field[Any, Any, Any, Any]


@dataclass(frozen=True)
class CurrencyAmount:
    """An amount in one currency (ISO 4217)."""

    amount: Decimal
    currency: str


def is_currency(code: str) -> bool:
    """Whether ISO 4217 lists the code, in capitals; the library ignores case."""
    found = pycountry.currencies.get(alpha_3=code)
    return found is not None and found.alpha_3 == code


class CurrencyField(serializers.CharField):
    """A three-letter code that ISO 4217 lists."""

    def __init__(self, **options: Any) -> None:
        super().__init__(min_length=3, max_length=3, **options)

    def to_internal_value(self, data: Any) -> str:
        code = super().to_internal_value(data)
        if not is_currency(code):
            raise serializers.ValidationError(
                f"{code!r} is not a currency of ISO 4217.", code="unknown_currency"
            )
        return code


class MoneyBody(StrictBody):
    amount = serializers.DecimalField(max_digits=14, decimal_places=2, min_value=Decimal(0))
    currency = CurrencyField()


@extend_schema_field(MoneyBody)
class MoneyField(serializers.Field[CurrencyAmount, Any, dict[str, str], Any]):
    """`{"amount": "12500.00", "currency": "USD"}`; in Python a `Money`."""

    def to_internal_value(self, data: Any) -> CurrencyAmount:
        body = MoneyBody(data=data)
        body.is_valid(raise_exception=True)
        return CurrencyAmount(**body.validated_data)

    def to_representation(self, value: CurrencyAmount) -> dict[str, str]:
        return {"amount": f"{value.amount:.2f}", "currency": value.currency}


class WarningSerializer(serializers.Serializer[Any]):
    """A problem that did not refuse the request but affects the answer."""

    code = serializers.CharField()
    sentence = serializers.CharField()
    pointer = serializers.CharField(
        allow_blank=True, help_text="to the field to send (RFC 6901); empty if there is none"
    )
