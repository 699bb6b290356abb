"""Fields and bodies that this app's serializers share."""

import math
from decimal import Decimal
from operator import attrgetter
from typing import Any

from django.core.validators import URLValidator
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from apps.boats.quantities import IMPERIAL, SI_NAMES
from apps.boats.vocabulary import Source
from apps.common.units import Units
from apps.http.bodies import StrictBody as StrictBody
from apps.http.fields import AnyField, CurrencyAmount, MoneyField, is_currency


class FigureField(serializers.FloatField):
    """A finite JSON number; text, true and infinity are refused."""

    default_error_messages = {"not_a_number": "Give a number."}

    def to_internal_value(self, data: Any) -> float:
        if isinstance(data, bool) or not isinstance(data, int | float):
            self.fail("not_a_number")
        try:
            figure = float(data)
        except OverflowError:
            self.fail("not_a_number")
        if not math.isfinite(figure):
            self.fail("not_a_number")
        return figure


class ImperialField(FigureField):
    """A particular stored in SI, sent and shown in feet or pounds; `source` is its SI name."""

    def __init__(self, si_name: str, **options: Any) -> None:
        self.imperial = IMPERIAL[si_name]
        super().__init__(source=si_name, **options)

    # The stubs expect numbers to be shown as text.
    def to_representation(self, value: float) -> float:  # type: ignore[override]
        return self.imperial.from_si(value)


class WordField(serializers.ChoiceField):
    """One of a few words; null (stored empty) if it is not known."""

    def __init__(self, choices: Any, **options: Any) -> None:
        super().__init__(choices, allow_null=True, **options)

    # The stubs have no choice field that is shown as null.
    def to_representation(self, value: Any) -> str | None:  # type: ignore[override]
        return super().to_representation(value) or None


class SourcesField(serializers.DictField):
    """How particulars are known, by their names in either unit; null resets one to a claim."""

    child = serializers.ChoiceField(Source.choices, allow_null=True)

    def __init__(self, names: tuple[str, ...], **options: Any) -> None:
        self.names = names
        super().__init__(**options)

    def to_internal_value(self, data: Any) -> dict[str, str | None]:
        given = super().to_internal_value(data)
        unknown = {
            name: [ErrorDetail(f"There is no particular {name!r}.", code="unknown_key")]
            for name in given
            if SI_NAMES.get(name, name) not in self.names
        }
        if unknown:
            raise ValidationError(unknown)
        return {SI_NAMES.get(name, name): source for name, source in given.items()}


class RatesField(serializers.DictField):
    """Values of one unit of other currencies (ISO 4217) in the list's; in Python decimal text."""

    child = serializers.DecimalField(
        max_digits=18,
        decimal_places=8,
        min_value=Decimal("0.00000001"),
        error_messages={"min_value": "A rate is more than 0."},
    )

    def to_internal_value(self, data: Any) -> dict[str, str]:
        rates = super().to_internal_value(data)
        unknown = {
            code: [ErrorDetail(f"{code!r} is not a currency of ISO 4217.", code="unknown_currency")]
            for code in rates
            if not is_currency(code)
        }
        if unknown:
            raise ValidationError(unknown)
        return {code: f"{rate.normalize():f}" for code, rate in rates.items()}

    def to_representation(self, value: dict[str, str]) -> dict[str, str]:
        return value


class AmountField(MoneyField):
    """Money of a record with separate columns for amount and currency; null without an amount."""

    def __init__(self, amount: str, currency: str, **options: Any) -> None:
        self.amount, self.currency = attrgetter(amount), attrgetter(currency)
        super().__init__(source="*", **options)

    def to_representation(self, record: Any) -> Any:
        amount = self.amount(record)
        if amount is None:
            return None
        return super().to_representation(CurrencyAmount(amount, self.currency(record)))


class LinkField(serializers.CharField):
    """A web address. The service shows it to people and never fetches it."""

    def __init__(self, **options: Any) -> None:
        super().__init__(max_length=500, **options)
        self.validators.append(
            URLValidator(schemes=["http", "https"], message="Give a web address (http or https).")
        )


@extend_schema_field(
    {
        "oneOf": [
            {"type": "number"},
            {"type": "array", "items": {"type": "string"}},
        ],
        "description": "the limit, or the acceptable words",
    }
)
class WantedValueField(AnyField):
    """A number or a list of words; the service checks which of them fits."""

    default_error_messages = {"not_a_value": "Give a number or a list of words."}

    def to_internal_value(self, data: Any) -> Any:
        a_number = isinstance(data, int | float) and not isinstance(data, bool)
        words = isinstance(data, list) and all(isinstance(word, str) for word in data)
        if not a_number and not words:
            self.fail("not_a_value")
        return data

    def to_representation(self, value: Any) -> Any:
        return value


class UnitsQuery(serializers.Serializer[Any]):
    units = serializers.ChoiceField(
        [unit.value for unit in Units],
        default=Units.SI.value,
        help_text="si, or imperial: feet, pounds and square feet, under names with these units",
    )
