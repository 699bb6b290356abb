from collections.abc import Iterable
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats import particulars
from apps.boats.api.fields import (
    AmountField,
    FigureField,
    ImperialField,
    LinkField,
    SourcesField,
    StrictBody,
    UnitsQuery,
    WordField,
)
from apps.boats.models import Candidate, PriceRecord, StageChange
from apps.boats.quantities import IMPERIAL, name_in
from apps.boats.vocabulary import SellerKind, Source, Stage
from apps.common.units import Units
from apps.http.fields import AnyField, MoneyField
from apps.http.pages import PageQuery
from apps.http.views import ClientIdMixin
from apps.reckoning.ratios import READINGS

LARGEST_LINKS = 30


def particular_fields(units: Iterable[Units], **options: Any) -> dict[str, AnyField]:
    """One field for each particular, and for sizes one in each of the units."""
    sizes: dict[str, AnyField] = {}
    for si_name, (low, high) in particulars.SIZES.items():
        if Units.SI in units:
            sizes[si_name] = FigureField(min_value=low, max_value=high, allow_null=True, **options)
        if Units.IMPERIAL in units:
            imperial = IMPERIAL[si_name]
            sizes[imperial.name] = ImperialField(
                si_name,
                min_value=imperial.from_si(low),
                max_value=imperial.from_si(high),
                allow_null=True,
                **options,
            )
    return {
        **sizes,
        **{name: WordField(words.choices, **options) for name, words in particulars.BUILDS.items()},
        **{
            name: serializers.IntegerField(
                min_value=particulars.FIRST_YEAR, max_value=9999, allow_null=True, **options
            )
            for name in particulars.YEARS
        },
        "engine_hours": serializers.IntegerField(
            min_value=0, max_value=particulars.HIGHEST_ENGINE_HOURS, allow_null=True, **options
        ),
    }


class PlaceBody(StrictBody):
    """Where she lies; latitude and longitude (WGS 84, degrees) go together."""

    yard = serializers.CharField(
        max_length=120, required=False, allow_blank=True, help_text="in your own words"
    )
    yard_id = serializers.UUIDField(
        source="at_yard_id",
        required=False,
        allow_null=True,
        help_text="a yard of the group or its club",
    )
    latitude = FigureField(min_value=-90, max_value=90, required=False, allow_null=True)
    longitude = FigureField(min_value=-180, max_value=180, required=False, allow_null=True)


class CandidateChangeBody(StrictBody):
    """Sizes in SI or imperial, not both of the same; null removes a value."""

    name = serializers.CharField(max_length=120, help_text="the group's name for her")
    hull_number = serializers.CharField(max_length=20, required=False, allow_blank=True)
    sources = SourcesField(
        particulars.PARTICULARS,
        required=False,
        help_text="how each particular is known; a claim by default",
    )
    place = PlaceBody(required=False)
    seller_kind = serializers.ChoiceField(SellerKind.choices, required=False)
    links = serializers.ListField(
        child=LinkField(),
        max_length=LARGEST_LINKS,
        required=False,
        help_text="web addresses of listings and papers",
    )
    note = serializers.CharField(max_length=4000, required=False, allow_blank=True)

    def get_fields(self) -> dict[str, AnyField]:
        return {**super().get_fields(), **particular_fields(tuple(Units), required=False)}

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        facts: dict[str, Any] = super().to_internal_value(data)
        twice = {
            imperial.name: [serializers.ErrorDetail(f"Send this or {si_name}.", "both_units")]
            for si_name, imperial in IMPERIAL.items()
            if si_name in data and imperial.name in data
        }
        if twice:
            raise serializers.ValidationError(twice)
        for si_name, imperial in IMPERIAL.items():
            if imperial.name in data and facts[si_name] is not None:
                facts[si_name] = imperial.to_si(facts[si_name])
        return facts

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        """The body as fields of the model: a place as flat fields, an unknown build as empty."""
        facts |= facts.pop("place", {})
        for name in particulars.BUILDS:
            if name in facts:
                facts[name] = facts[name] or ""
        return facts


class CandidateBody(ClientIdMixin, CandidateChangeBody):
    """A boat with her known particulars; sizes in SI or imperial, not both of the same."""

    asking = MoneyField(
        required=False, help_text="the asking price; becomes the first price record"
    )


class PlaceSerializer(serializers.Serializer[Any]):
    """`latitude` and `longitude`: the boat's own; null: those of the yard hold, if there is one."""

    yard = serializers.CharField()
    yard_id = serializers.UUIDField(source="at_yard_id", allow_null=True)
    latitude = serializers.FloatField(allow_null=True)
    longitude = serializers.FloatField(allow_null=True)


class RatioSerializer(serializers.Serializer[Any]):
    """A ratio with its usual names: `names[n]` holds from `limits[n-1]` to below `limits[n]`."""

    value = serializers.FloatField()
    reading = serializers.CharField()
    limits = serializers.ListField(child=serializers.FloatField())
    names = serializers.ListField(child=serializers.CharField())
    caution = serializers.CharField(help_text="what the figure leaves out")


class RatiosSerializer(serializers.Serializer[Any]):
    """A ratio is null if a particular that it needs is not known."""

    def get_fields(self) -> dict[str, AnyField]:
        return {name: RatioSerializer(allow_null=True) for name in particulars.RATIOS}


def ratios_serialized(candidate: Candidate) -> dict[str, dict[str, Any] | None]:
    ratios = particulars.ratios_of(candidate)
    return {name: ratio_serialized(name, getattr(ratios, name)) for name in particulars.RATIOS}


def ratio_serialized(name: str, value: float | None) -> dict[str, Any] | None:
    if value is None:
        return None
    reading = READINGS[name]
    return {
        "value": round(value, 4),
        "reading": reading.name(value),
        # A limit that belongs to the band below is stored slightly above the trade's value.
        "limits": [round(limit, 6) for limit in reading.limits],
        "names": list(reading.names),
        "caution": reading.caution,
    }


class CandidateSerializer(serializers.ModelSerializer[Candidate]):
    """One boat, in SI."""

    units = Units.SI

    stage = serializers.ChoiceField(Stage.choices)
    sources = serializers.SerializerMethodField(help_text="source of each known particular")
    asking = AmountField("asking_amount", "asking_currency", allow_null=True)
    place = PlaceSerializer(source="*")
    seller_kind = serializers.ChoiceField(SellerKind.choices)
    links = serializers.ListField(child=serializers.CharField())
    ratios = serializers.SerializerMethodField()
    added_by = PersonRefSerializer()

    class Meta:
        model = Candidate
        fields = (
            "id",
            "version",
            "list",
            "name",
            "hull_number",
            "stage",
            "stage_reason",
            "asking",
            "sources",
            "place",
            "seller_kind",
            "links",
            "note",
            "ratios",
            "added_by",
            "created_at",
            "updated_at",
        )
        read_only_fields = fields

    def get_fields(self) -> dict[str, AnyField]:
        return {**super().get_fields(), **particular_fields([self.units])}

    @extend_schema_field(serializers.DictField(child=serializers.ChoiceField(Source.choices)))
    def get_sources(self, candidate: Candidate) -> dict[str, str]:
        sources = particulars.sources_of(candidate)
        return {name_in(self.units, name): source for name, source in sources.items()}

    @extend_schema_field(RatiosSerializer)
    def get_ratios(self, candidate: Candidate) -> dict[str, Any]:
        return ratios_serialized(candidate)


class ImperialCandidateSerializer(CandidateSerializer):
    """One boat, in feet, pounds and square feet."""

    units = Units.IMPERIAL


SERIALIZERS = {
    Units.SI.value: CandidateSerializer,
    Units.IMPERIAL.value: ImperialCandidateSerializer,
}


class StagesField(serializers.CharField):
    """One or more stages, separated by commas; in Python a list."""

    # Text in requests, a list in Python: the stubs allow one type for both.
    def to_internal_value(self, data: Any) -> list[str]:  # type: ignore[override]
        stages = super().to_internal_value(data).split(",")
        for stage in stages:
            if stage not in Stage.values:
                raise serializers.ValidationError(
                    f"{stage!r} is no stage; these are: {', '.join(Stage.values)}.",
                    code="unknown_stage",
                )
        return stages


class CandidatesQuery(PageQuery, UnitsQuery):
    stage = StagesField(required=False, help_text="one or more stages, separated by commas")
    text = serializers.CharField(required=False, max_length=120, help_text="part of the name")


class StageChangeSerializer(serializers.ModelSerializer[StageChange]):
    by = PersonRefSerializer()

    class Meta:
        model = StageChange
        fields = ("id", "candidate", "from_stage", "to_stage", "reason", "by", "created_at")
        read_only_fields = fields


class StageChangeBody(StrictBody):
    """The stage to which she moves."""

    stage = serializers.ChoiceField(Stage.choices)
    reason = serializers.CharField(
        max_length=1000,
        required=False,
        allow_blank=True,
        help_text="needed to strike off, and to buy while a gate is open",
    )


class PriceSerializer(serializers.ModelSerializer[PriceRecord]):
    asking = AmountField("amount", "currency")
    by = PersonRefSerializer()

    class Meta:
        model = PriceRecord
        fields = (
            "id",
            "candidate",
            "asking",
            "asked_on",
            "note",
            "advert_link",
            "advert_text",
            "by",
            "created_at",
        )
        read_only_fields = fields


class PriceBody(StrictBody):
    """An asking price, of today or of another day, with the advert that named it."""

    asking = MoneyField(help_text="in the list's currency or one the brief has a rate for")
    asked_on = serializers.DateField(required=False, help_text="today if left out")
    note = serializers.CharField(max_length=300, required=False, allow_blank=True)
    advert_link = LinkField(required=False, allow_blank=True)
    advert_text = serializers.CharField(
        max_length=20_000,
        required=False,
        allow_blank=True,
        help_text="the advert as it was on that day, because adverts change and go",
    )
