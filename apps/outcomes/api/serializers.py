from typing import Any

from drf_spectacular.utils import extend_schema_serializer
from rest_framework import serializers

from apps.boats.vocabulary import Drive, HullMaterial, Keel, Rudder
from apps.groups.api.serializers import ClubRefSerializer
from apps.http.fields import WarningSerializer
from apps.outcomes.kinds import AGE_WORDS, ALL, TITLES

PICTURES = ("found", "disclosed", "cost")


class OutcomesQuery(serializers.Serializer[Any]):
    """One kind of boats at a time: two properties together would leave too few groups."""

    area = serializers.SlugField(required=False, max_length=60, help_text="of the boat")
    checkpoint = serializers.SlugField(required=False, max_length=60)
    hull_material = serializers.ChoiceField(HullMaterial.choices, required=False)
    keel = serializers.ChoiceField(Keel.choices, required=False)
    rudder = serializers.ChoiceField(Rudder.choices, required=False)
    drive = serializers.ChoiceField(Drive.choices, required=False)
    age = serializers.ChoiceField(
        list(AGE_WORDS.items()), required=False, help_text="of the boat when surveyed"
    )

    def validate(self, asked: dict[str, Any]) -> dict[str, Any]:
        """Replace the parameters by one kind of boats."""
        kinds = [(by, asked.pop(by)) for by in TITLES if by in asked]
        if len(kinds) > 1:
            fault = serializers.ErrorDetail(
                "Boats are divided by one property at a time.", code="one_at_a_time"
            )
            raise serializers.ValidationError({by: [fault] for by, _ in kinds[1:]})
        return {**asked, "kind": kinds[0] if kinds else ALL}


class PictureQuery(OutcomesQuery):
    picture = serializers.ChoiceField(
        PICTURES,
        default="found",
        help_text="what surveys found, what quick looks had reported, what bills came to",
    )


class FigureSerializer(serializers.Serializer[Any]):
    """A figure over at least three groups besides any single one, with its interval."""

    figure = serializers.FloatField()
    low = serializers.FloatField(help_text="end of the 80% interval")
    high = serializers.FloatField()
    groups = serializers.IntegerField(min_value=3, help_text="how many are behind it")
    boats = serializers.IntegerField(min_value=3, help_text="how many of theirs")
    disclosed_at = serializers.DateTimeField(help_text="when it was last published anew")


class FoundSerializer(FigureSerializer):
    expected = serializers.FloatField(help_text="share that the catalogue expects of these boats")


FOUND = FoundSerializer(
    allow_null=True, help_text="share of surveyed boats on which it was defective or worse"
)
CAUGHT = FigureSerializer(
    allow_null=True,
    help_text="of the boats where it was, and where members had looked before: the share where one "
    "of them had found it defective or worse (sensitivity)",
)
CLEARED = FigureSerializer(
    allow_null=True,
    help_text="of the boats where it was not, and where members had looked before: the share where "
    "none of them had found it defective or worse (specificity)",
)
DIFFERENCE = FigureSerializer(
    allow_null=True,
    help_text="members' looks less the survey, in levels: below 0 they saw it better than it was",
)
COST = FigureSerializer(
    allow_null=True,
    help_text="what was paid to the trade over the catalogue's estimate at the level found, scaled "
    "to the boat and the money of the year: the geometric mean",
)


class KindSerializer(serializers.Serializer[Any]):
    by = serializers.ChoiceField(["", *TITLES], help_text="the property; empty: all boats")
    value = serializers.CharField(allow_blank=True)
    words = serializers.CharField()


class DividedSerializer(KindSerializer):
    found = FOUND
    caught = CAUGHT
    cleared = CLEARED
    difference = DIFFERENCE


class DividedCostSerializer(KindSerializer):
    cost = COST


class CheckpointOutcomesSerializer(serializers.Serializer[Any]):
    checkpoint = serializers.SlugField()
    title = serializers.CharField()
    area = serializers.SlugField()
    judged_by = serializers.CharField(
        allow_blank=True, help_text="the professional who must judge it"
    )
    found = FOUND
    caught = CAUGHT
    cleared = CLEARED
    difference = DIFFERENCE
    divided = DividedSerializer(
        many=True, required=False, help_text="by kind of boat, unless the request names one kind"
    )


class RemedyOutcomesSerializer(serializers.Serializer[Any]):
    remedy = serializers.SlugField()
    title = serializers.CharField()
    area = serializers.SlugField()
    cost = COST
    divided = DividedCostSerializer(many=True, required=False)


class AreaOutcomesSerializer(serializers.Serializer[Any]):
    """Sums over the published checkpoints."""

    area = serializers.SlugField()
    title = serializers.CharField()
    checkpoints = serializers.IntegerField()
    looks = serializers.IntegerField(help_text="by surveyors, at all of them together")
    groups = serializers.IntegerField(help_text="at least so many groups are behind it")
    share = serializers.FloatField(help_text="of those looks that found it defective or worse")
    expected = serializers.FloatField(allow_null=True, help_text="share that the catalogue expects")


@extend_schema_serializer(component_name="ClubOutcomes")
class OutcomesAnswerSerializer(serializers.Serializer[Any]):
    club = ClubRefSerializer()
    computed_at = serializers.DateTimeField(allow_null=True, help_text="null: never yet")
    method = serializers.CharField(help_text="the model's version")
    caution = serializers.CharField()
    warnings = WarningSerializer(many=True)
    boats_shown = KindSerializer()
    areas = AreaOutcomesSerializer(many=True)
    checkpoints = CheckpointOutcomesSerializer(many=True)
    remedies = RemedyOutcomesSerializer(many=True)
    sentences = serializers.ListField(child=serializers.CharField())
