"""The catalogue in the API. Everything here is read-only."""

from collections.abc import Iterable
from dataclasses import astuple
from decimal import Decimal
from typing import Any, ClassVar

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.catalogue import content, cost_models, models, vocabulary
from apps.catalogue.fields import Entry
from apps.catalogue.rows import POINTS, three_points
from apps.catalogue.scales import Grade, ScaleEntry
from apps.catalogue.schema import json_schema
from apps.http.fields import CurrencyAmount, MoneyField
from apps.reckoning.pricing import REFERENCE_PRICE

AnyField = serializers.Field[Any, Any, Any, Any]


class CheckpointQuery(serializers.Serializer[Any]):
    area = serializers.SlugField(required=False, help_text="only of this area")
    concern = serializers.ChoiceField(
        vocabulary.CONCERNS, required=False, help_text="only with this concern"
    )


class RemedyQuery(serializers.Serializer[Any]):
    area = serializers.SlugField(required=False, help_text="only of this area")


class EditionsSerializer(serializers.Serializer[Any]):
    """Editions of each layer; 0 if a club or group has nothing of its own."""

    base = serializers.IntegerField()
    club = serializers.IntegerField()
    group = serializers.IntegerField()


# --- From the types of the content ---------------------------------------------------------------

PLAIN: dict[str, type[AnyField]] = {
    "string": serializers.CharField,
    "integer": serializers.IntegerField,
    "number": serializers.FloatField,
    "boolean": serializers.BooleanField,
}


def field_for(shape: dict[str, Any]) -> AnyField:
    """The field for a value of this shape, given as JSON Schema."""
    payload: dict[str, Any] = {"help_text": shape.get("description")}
    match shape:
        case {"enum": words}:
            return serializers.ChoiceField(
                list(filter(None, words)), allow_blank="" in words, **payload
            )
        case {"type": "array"}:
            return serializers.ListField(child=field_for(shape["items"]), **payload)
        case {"type": "object"}:
            values = serializers.ListField(child=serializers.CharField())
            return serializers.DictField(child=values, **payload)
    return PLAIN[shape["type"]](**payload)


class ContentSerializer(serializers.Serializer[Any]):
    """All fields of a content type, unless a subclass declares them differently."""

    of: ClassVar[type[Entry]]
    without: ClassVar[tuple[str, ...]] = ()

    def get_fields(self) -> dict[str, AnyField]:
        declared = super().get_fields()
        left_out = {*declared, *self.without}
        shapes = json_schema(self.of)["properties"].items()
        found = {name: field_for(shape) for name, shape in shapes if name not in left_out}
        return {**found, **declared}


class AreaSerializer(ContentSerializer):
    of = content.AreaEntry


class CautionSerializer(ContentSerializer):
    """What may hurt the person who looks. Local codes and licensed practice outrank it."""

    of = content.CautionEntry


class GradeSerializer(ContentSerializer):
    of = Grade


class ScaleSerializer(ContentSerializer):
    """How a measured value gives a level."""

    of = ScaleEntry
    without = ("range",)
    lowest = serializers.FloatField()
    highest = serializers.FloatField()
    grades = GradeSerializer(many=True, help_text="a standard's own grades")


class MeasureSerializer(ContentSerializer):
    of = content.Measure


class BeliefSerializer(ContentSerializer):
    """The levels expected before anybody looks."""

    of = content.BeliefEntry


class RemedyTriggerSerializer(ContentSerializer):
    of = content.RemedyTrigger
    without = ("code",)
    remedy = serializers.CharField(source="remedy_id", help_text="code of a remedy")


class LevelSerializer(serializers.Serializer[Any]):
    level = serializers.IntegerField(min_value=0, max_value=4)
    name = serializers.ChoiceField(vocabulary.LEVELS)
    description = serializers.CharField()


class CheckpointSerializer(ContentSerializer):
    """One thing to look at, in one of its versions."""

    of = content.CheckpointEntry
    code = serializers.CharField(source="checkpoint_id")
    number = serializers.IntegerField()
    area = AreaSerializer()
    levels = serializers.SerializerMethodField()
    walk_away_level = serializers.IntegerField(allow_null=True)
    guarded = serializers.SerializerMethodField(
        help_text="members can raise doubts here, never clear them; 'sound' only means nothing seen"
    )
    cautions = CautionSerializer(many=True, help_text="cautions to show before anybody looks")
    place = serializers.ChoiceField(list(vocabulary.PLACES.items()))
    belief = BeliefSerializer(source="*")
    measure = serializers.SerializerMethodField()
    remedies = RemedyTriggerSerializer(source="remedy_triggers", many=True)
    loaded_at = serializers.DateTimeField(source="edition.loaded_at")

    @extend_schema_field(LevelSerializer(many=True))
    def get_levels(self, version: models.CheckpointVersion) -> list[dict[str, Any]]:
        return [
            {"level": level, "name": vocabulary.LEVELS[level], "description": description}
            for level, description in enumerate(version.levels)
        ]

    def get_guarded(self, version: models.CheckpointVersion) -> bool:
        return vocabulary.guarded(version.concerns)

    @extend_schema_field(MeasureSerializer(allow_null=True))
    def get_measure(self, version: models.CheckpointVersion) -> dict[str, str] | None:
        name, unit, scale = version.measure_name, version.measure_unit, version.measure_scale_id
        return None if scale is None else {"name": name, "unit": unit, "scale": scale}


class HoursSerializer(serializers.Serializer[Any]):
    low = serializers.FloatField()
    likely = serializers.FloatField()
    high = serializers.FloatField()


class CostSerializer(serializers.Serializer[Any]):
    low = MoneyField()
    likely = MoneyField()
    high = MoneyField()


def cost(points: Iterable[float], currency: str) -> dict[str, CurrencyAmount]:
    amounts = (CurrencyAmount(Decimal(str(amount)), currency) for amount in points)
    return dict(zip(POINTS, amounts, strict=True))


class PricedSerializer(ContentSerializer):
    """Hours and parts for a boat of the reference length."""

    without = ("scale",)
    hours = serializers.SerializerMethodField(help_text="a yard's hours")
    parts = serializers.SerializerMethodField(help_text="parts, materials or a fee")
    loa_exponent = serializers.FloatField(help_text="0: does not grow with length")

    def currency(self, row: Any) -> str:
        raise NotImplementedError

    @extend_schema_field(HoursSerializer)
    def get_hours(self, row: cost_models.Priced) -> dict[str, float]:
        return vars(three_points(row, "hours"))

    @extend_schema_field(CostSerializer)
    def get_parts(self, row: cost_models.Priced) -> dict[str, Any]:
        parts = astuple(three_points(row, "parts"))
        return CostSerializer(cost(parts, self.currency(row))).data


class EnablingSerializer(PricedSerializer):
    """Work that several remedies need first and that is paid once. Context: `currency`."""

    of = content.EnablingEntry

    def currency(self, row: cost_models.Enabling) -> str:
        currency: str = self.context["currency"]
        return currency


class VariantSerializer(ContentSerializer):
    """Hours and parts of a remedy on boats built in a certain way."""

    of = content.Variant
    hours = HoursSerializer()
    parts = CostSerializer()


class RemedySerializer(PricedSerializer):
    """One thing to repair, in one of its versions, for one unit of extent."""

    of = content.RemedyEntry
    code = serializers.CharField(source="remedy_id")
    number = serializers.IntegerField()
    area = AreaSerializer()
    enabling = EnablingSerializer(many=True, help_text="what must be done first")
    by_price = serializers.BooleanField(
        help_text=(
            "it grows in proportion to the boat's price: the figures are for a boat of "
            f"{REFERENCE_PRICE:,.0f}"
        )
    )
    variants = serializers.SerializerMethodField(
        help_text="figures for boats with these particulars, in place of the usual ones"
    )
    base_year = serializers.IntegerField(source="edition.base_year", help_text="year of the prices")
    reference_loa_m = serializers.FloatField(
        source="edition.reference_loa_m", help_text="length of the boat that the figures are for"
    )
    loaded_at = serializers.DateTimeField(source="edition.loaded_at")

    def currency(self, row: models.RemedyVersion) -> str:
        return row.edition.currency

    @extend_schema_field(VariantSerializer(many=True))
    def get_variants(self, row: models.RemedyVersion) -> list[Any]:
        variants = [
            {
                "applies": each["applies"],
                "hours": dict(zip(POINTS, each["hours"], strict=True)),
                "parts": cost(each["parts"], self.currency(row)),
            }
            for each in row.variants
        ]
        return list(VariantSerializer(variants, many=True).data)


# --- Whole answers -------------------------------------------------------------------------------


class WholeSerializer(serializers.Serializer[Any]):
    """All rows, on a single page."""

    edition = serializers.IntegerField(help_text="raised by every change of the catalogue")
    next = serializers.CharField(allow_null=True, default=None, help_text="always null")


class CheckpointListSerializer(WholeSerializer):
    results = CheckpointSerializer(many=True)


class RemedyListSerializer(WholeSerializer):
    yard_rate = CostSerializer(help_text="price of an hour of a yard's labour")
    results = RemedySerializer(many=True)


class CautionListSerializer(WholeSerializer):
    results = CautionSerializer(many=True)


class ScaleListSerializer(WholeSerializer):
    results = ScaleSerializer(many=True)


class CheckpointHistorySerializer(serializers.Serializer[Any]):
    code = serializers.CharField()
    retired = serializers.BooleanField(help_text="no longer in use; old findings keep it")
    versions = CheckpointSerializer(many=True, help_text="newest first")


class RemedyHistorySerializer(serializers.Serializer[Any]):
    code = serializers.CharField()
    retired = serializers.BooleanField(help_text="no longer in use; old results keep it")
    versions = RemedySerializer(many=True, help_text="newest first")
