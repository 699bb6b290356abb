"""What the catalogue says, as the API shows it. Everything here is read-only."""

from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.catalogue import content, models
from apps.catalogue.rows import POINTS
from apps.http.fields import Money, MoneyField
from apps.reckoning.pricing import REFERENCE_PRICE


class CheckpointQuery(serializers.Serializer[Any]):
    area = serializers.SlugField(required=False, help_text="only of this area")
    concern = serializers.ChoiceField(
        content.CONCERNS, required=False, help_text="only with this concern"
    )


class RemedyQuery(serializers.Serializer[Any]):
    area = serializers.SlugField(required=False, help_text="only of this area")


class EditionsSerializer(serializers.Serializer[Any]):
    """What the words and figures come from; 0 where a club or group says nothing of its own."""

    base = serializers.IntegerField()
    club = serializers.IntegerField()
    group = serializers.IntegerField()


class AreaSerializer(serializers.ModelSerializer[models.Area]):
    class Meta:
        model = models.Area
        fields = ("code", "title", "position")


class CautionSerializer(serializers.ModelSerializer[models.Caution]):
    """What may hurt the person who looks. Local codes and licensed practice outrank it."""

    class Meta:
        model = models.Caution
        fields = ("code", "title", "text", "defer_to")


class GradeSerializer(serializers.Serializer[Any]):
    standard = serializers.CharField()
    grade = serializers.CharField()
    value = serializers.FloatField(help_text="the largest value the grade stands for")


class ScaleSerializer(serializers.ModelSerializer[models.Scale]):
    """How a measured value reads as a level."""

    breaks = serializers.ListField(
        child=serializers.FloatField(),
        help_text="up to the first (down to it, if falling) is level 0, beyond the fourth level 4",
    )
    grades = GradeSerializer(many=True, help_text="a standard's own grades")

    class Meta:
        model = models.Scale
        fields = (
            "code",
            "title",
            "unit",
            "rising",
            "lowest",
            "highest",
            "breaks",
            "grades",
            "source",
        )


class LevelSerializer(serializers.Serializer[Any]):
    level = serializers.IntegerField(min_value=0, max_value=4)
    name = serializers.ChoiceField(content.LEVELS)
    description = serializers.CharField()


class MeasureSerializer(serializers.Serializer[Any]):
    name = serializers.CharField()
    unit = serializers.CharField()
    scale = serializers.CharField(help_text="code of the scale that reads it as a level")


class BeliefSerializer(serializers.ModelSerializer[models.CheckpointVersion]):
    """What is expected before anybody looked."""

    class Meta:
        model = models.CheckpointVersion
        fields = ("mu", "age", "care", "sd", "ages_with", "breakage")
        extra_kwargs = {
            "mu": {"help_text": "level of an ordinary boat after 30 years of wear"},
            "age": {"help_text": "change of the level in ten years"},
            "care": {"help_text": "how much it follows the boat's general care"},
            "sd": {"help_text": "scatter between boats"},
            "ages_with": {"help_text": "whose age counts"},
            "breakage": {
                "help_text": "share of boats of 30 years on which it is broken, whatever their care"
            },
        }


class RemedyCallSerializer(serializers.ModelSerializer[models.CheckpointRemedy]):
    remedy = serializers.CharField(source="remedy_id", help_text="code of a remedy")
    probability = serializers.ListField(
        child=serializers.FloatField(), help_text="that it is called for, level 0 to 4"
    )
    extent = serializers.ListField(
        child=serializers.FloatField(), help_text="how much of it, level 0 to 4"
    )

    class Meta:
        model = models.CheckpointRemedy
        fields = ("remedy", "probability", "extent")


def words(*choices: str) -> serializers.ListField:
    child = serializers.ChoiceField(choices) if choices else serializers.CharField()
    return serializers.ListField(child=child)


class CheckpointSerializer(serializers.ModelSerializer[models.CheckpointVersion]):
    """One thing to look at, in one of its versions."""

    code = serializers.CharField(source="checkpoint_id")
    area = AreaSerializer()
    tools = words()
    levels = serializers.SerializerMethodField()
    concerns = words(*content.CONCERNS)
    guarded = serializers.SerializerMethodField(
        help_text="members raise doubts here and never clear them; a sound here is nothing seen"
    )
    cautions = CautionSerializer(many=True, help_text="to be told before anybody looks")
    prevented_by = words(*content.REASONS)
    hampered_by = words(*content.REASONS)
    belief = BeliefSerializer(source="*")
    applies = serializers.DictField(
        child=serializers.ListField(child=serializers.CharField()),
        help_text="the values that each of these particulars may have",
    )
    measure = serializers.SerializerMethodField()
    remedies = RemedyCallSerializer(source="remedy_calls", many=True)
    tags = words()
    loaded_at = serializers.DateTimeField(source="edition.loaded_at")

    class Meta:
        model = models.CheckpointVersion
        fields = (
            "code",
            "number",
            "area",
            "position",
            "title",
            "look",
            "tools",
            "levels",
            "concerns",
            "guarded",
            "weight",
            "walk_away_level",
            "cautions",
            "prevented_by",
            "hampered_by",
            "place",
            "priority",
            "minutes",
            "ask",
            "professional",
            "professional_from",
            "professional_only",
            "receipt_clears",
            "belief",
            "applies",
            "measure",
            "remedies",
            "tags",
            "source",
            "loaded_at",
        )

    @extend_schema_field(LevelSerializer(many=True))
    def get_levels(self, version: models.CheckpointVersion) -> list[dict[str, Any]]:
        return [
            {"level": level, "name": content.LEVELS[level], "description": description}
            for level, description in enumerate(version.levels)
        ]

    def get_guarded(self, version: models.CheckpointVersion) -> bool:
        return content.guarded(version.concerns)

    @extend_schema_field(MeasureSerializer(allow_null=True))
    def get_measure(self, version: models.CheckpointVersion) -> dict[str, str] | None:
        if version.measure_scale_id is None:
            return None
        return {
            "name": version.measure_name,
            "unit": version.measure_unit,
            "scale": version.measure_scale_id,
        }


class HoursSerializer(serializers.Serializer[Any]):
    low = serializers.FloatField()
    likely = serializers.FloatField()
    high = serializers.FloatField()


class CostSerializer(serializers.Serializer[Any]):
    low = MoneyField()
    likely = MoneyField()
    high = MoneyField()


def cost(row: Any, name: str, currency: str) -> dict[str, Money]:
    """Three points of money, kept in the row as `<name>_low` and so on."""
    return {
        point: Money(Decimal(str(getattr(row, f"{name}_{point}"))), currency) for point in POINTS
    }


PRICED = ("hours", "parts", "loa_exponent", "confidence", "source")


class PricedSerializer(serializers.ModelSerializer[Any]):
    """Hours and parts for a boat of the reference length."""

    hours = serializers.SerializerMethodField(help_text="a yard's hours")
    parts = serializers.SerializerMethodField(help_text="parts, materials or a fee")

    def currency(self, row: Any) -> str:
        raise NotImplementedError

    @extend_schema_field(HoursSerializer)
    def get_hours(self, row: models.Priced) -> dict[str, float]:
        return {point: getattr(row, f"hours_{point}") for point in POINTS}

    @extend_schema_field(CostSerializer)
    def get_parts(self, row: models.Priced) -> dict[str, Any]:
        return CostSerializer(cost(row, "parts", self.currency(row))).data


class EnablingSerializer(PricedSerializer):
    """Work that several remedies need first and that is paid once. Context: `currency`."""

    class Meta:
        model = models.Enabling
        fields = ("code", "title", *PRICED)

    def currency(self, row: models.Enabling) -> str:
        currency: str = self.context["currency"]
        return currency


class VariantSerializer(serializers.Serializer[Any]):
    """What a remedy takes on boats that are built so."""

    applies = serializers.DictField(
        child=serializers.ListField(child=serializers.CharField()),
        help_text="particular to the values it has on such a boat",
    )
    hours = HoursSerializer()
    parts = CostSerializer()


class RemedySerializer(PricedSerializer):
    """One thing to put right, in one of its versions, for one unit of extent."""

    code = serializers.CharField(source="remedy_id")
    area = AreaSerializer()
    enabling = EnablingSerializer(many=True, help_text="what must be done first")
    by_price = serializers.BooleanField(
        help_text=(
            "it grows in proportion to the boat's price: the figures are for a boat of "
            f"{REFERENCE_PRICE:,.0f}"
        )
    )
    variants = serializers.SerializerMethodField(
        help_text="the figures for boats of which this is known, in place of the usual ones"
    )
    base_year = serializers.IntegerField(source="edition.base_year", help_text="of the prices")
    reference_loa_m = serializers.FloatField(
        source="edition.reference_loa_m", help_text="length of the boat that it is priced for"
    )
    loaded_at = serializers.DateTimeField(source="edition.loaded_at")

    class Meta:
        model = models.RemedyVersion
        fields = (
            "code",
            "number",
            "area",
            "title",
            *PRICED,
            "base_year",
            "reference_loa_m",
            "count",
            "by_price",
            "variants",
            "enabling",
            "own_work",
            "own_hours_factor",
            "urgency",
            "loaded_at",
        )

    def currency(self, row: models.RemedyVersion) -> str:
        return row.edition.currency

    @extend_schema_field(VariantSerializer(many=True))
    def get_variants(self, row: models.RemedyVersion) -> list[Any]:
        return [
            {
                "applies": each["applies"],
                "hours": each["hours"],
                "parts": CostSerializer(
                    {
                        point: Money(Decimal(str(each["parts"][point])), row.edition.currency)
                        for point in POINTS
                    }
                ).data,
            }
            for each in row.variants
        ]


# --- Whole answers -------------------------------------------------------------------------------


class WholeSerializer(serializers.Serializer[Any]):
    """All rows as the only page."""

    edition = serializers.IntegerField(help_text="raised whenever the catalogue changed")
    next = serializers.CharField(allow_null=True, default=None, help_text="always null")


class CheckpointListSerializer(WholeSerializer):
    results = CheckpointSerializer(many=True)


class RemedyListSerializer(WholeSerializer):
    yard_rate = CostSerializer(help_text="for an hour of a yard's labour")
    results = RemedySerializer(many=True)


class CautionListSerializer(WholeSerializer):
    results = CautionSerializer(many=True)


class ScaleListSerializer(WholeSerializer):
    results = ScaleSerializer(many=True)


class CheckpointHistorySerializer(serializers.Serializer[Any]):
    code = serializers.CharField()
    retired = serializers.BooleanField(help_text="no longer looked at; old findings keep it")
    versions = CheckpointSerializer(many=True, help_text="newest first")


class RemedyHistorySerializer(serializers.Serializer[Any]):
    code = serializers.CharField()
    retired = serializers.BooleanField(help_text="no longer called for; old results keep it")
    versions = RemedySerializer(many=True, help_text="newest first")
