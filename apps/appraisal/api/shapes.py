"""The shapes that derived answers share, for the schema. Answers are given as they are stored."""

from copy import deepcopy
from typing import Any

from drf_spectacular.utils import inline_serializer
from rest_framework import serializers

from apps.appraisal.board.strike_off import REASONS
from apps.boats.api.fields import WantedValueField
from apps.catalogue.api.serializers import EditionsSerializer
from apps.common.waiting import LONGEST
from apps.http.fields import WarningSerializer


class WaitQuery(serializers.Serializer[Any]):
    wait = serializers.FloatField(
        default=0,
        min_value=0,
        max_value=LONGEST,
        help_text="seconds to wait, at most, until the answer is fresh",
    )


class AmountSerializer(serializers.Serializer[Any]):
    """Money to the whole unit; below zero where something gets cheaper."""

    amount = serializers.CharField(help_text="decimal text")
    currency = serializers.CharField(help_text="ISO 4217")


class RangeSerializer(serializers.Serializer[Any]):
    """A cost with its spread: 10, 50 and 90 percent of the outcomes stay below; and the mean."""

    low = serializers.CharField()
    likely = serializers.CharField()
    high = serializers.CharField()
    mean = serializers.CharField()
    currency = serializers.CharField()


class DerivedSerializer(serializers.Serializer[Any]):
    """What every derived answer says of itself."""

    revision = serializers.IntegerField(help_text="of the inputs it comes from; 0: none yet")
    fresh = serializers.BooleanField(help_text="whether it is what it would be if made now")
    computed_at = serializers.DateTimeField(allow_null=True)
    method = serializers.CharField(help_text="the model's version")
    editions = EditionsSerializer(help_text="of the catalogue that it comes from")
    caution = serializers.CharField()
    failing = serializers.BooleanField(help_text="the last attempt failed; it is tried again")
    warnings = WarningSerializer(many=True)


PriorsSerializer = inline_serializer(
    "Priors",
    {
        "from": serializers.ChoiceField(
            ["catalogue", "club"],
            help_text="club: the catalogue's, moved by what other groups of the club found",
        ),
        "groups": serializers.IntegerField(help_text="how many other groups are behind it"),
        "boats": serializers.IntegerField(help_text="how many of their boats"),
        "computed_at": serializers.DateTimeField(allow_null=True),
    },
    allow_null=True,
    help_text="where it comes from what to expect before anybody looks",
)


OutcomesSerializer = inline_serializer(
    "OutcomesUsed",
    {
        "groups": serializers.IntegerField(help_text="how many other groups are behind it"),
        "boats": serializers.IntegerField(help_text="how many of their boats, at most"),
        "computed_at": serializers.DateTimeField(),
        "checkpoints": serializers.ListField(
            child=serializers.SlugField(), help_text="where surveys moved what is expected"
        ),
        "remedies": serializers.ListField(
            child=serializers.SlugField(), help_text="where bills moved the price"
        ),
    },
    allow_null=True,
    help_text="what of the club's statistics of surveys and bills this was worked out with, if any",
)


class NamedSerializer(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    name = serializers.CharField()


class WorstStructuralSerializer(serializers.Serializer[Any]):
    level = serializers.IntegerField(min_value=0, max_value=4)
    checkpoint = serializers.SlugField()
    title = serializers.CharField()


class ConditionSerializer(serializers.Serializer[Any]):
    """From 0, all failed, to 100, all sound; null where nothing can be said."""

    score = serializers.FloatField(allow_null=True)
    low = serializers.FloatField(allow_null=True, help_text="end of the 80% interval")
    high = serializers.FloatField(allow_null=True)
    uncorrected = serializers.FloatField(
        allow_null=True, help_text="from the plain mean of what was reported"
    )
    coverage = serializers.FloatField(
        allow_null=True, help_text="share of the weight that anybody could look at"
    )
    worst_structural = WorstStructuralSerializer(
        allow_null=True,
        required=False,
        help_text="the worst level that is credible of anything structural that anybody looked at, "
        "which the score's average hides; null if nobody looked at any",
    )


class WantedSerializer(serializers.Serializer[Any]):
    """A want, in parts."""

    want_id = serializers.UUIDField()
    person_id = serializers.UUIDField()
    subject = serializers.CharField()
    key = serializers.CharField(allow_blank=True)
    test = serializers.CharField(allow_blank=True)
    wanted = WantedValueField(allow_null=True)
    text = serializers.CharField(allow_blank=True)


class AdviceSerializer(serializers.Serializer[Any]):
    """A reason to strike off: the code, the sentence, and the numbers that belong to the code."""

    code = serializers.ChoiceField(list(REASONS))
    sentence = serializers.CharField()

    def get_fields(self) -> dict[str, Any]:
        fields = super().get_fields()
        for reason in REASONS.values():
            fields |= deepcopy(dict(reason.fields))
        return fields


class ToBeJudgedSerializer(serializers.Serializer[Any]):
    """A grave doubt that is no reason to strike off yet, with who must judge it first."""

    code = serializers.ChoiceField(["to_be_judged"])
    sentence = serializers.CharField()
    checkpoint = serializers.SlugField()
    title = serializers.CharField()
    level = serializers.IntegerField(min_value=0, max_value=4, help_text="as somebody saw it")
    judged_by = serializers.CharField()
    probability = serializers.FloatField(
        allow_null=True, help_text="of the level to walk away from; null if there is none"
    )
    seen_by = serializers.IntegerField(help_text="how many people saw it so")
    seen_otherwise = serializers.IntegerField(help_text="how many looked and did not")
    judged = serializers.BooleanField(help_text="one of those who saw it so may judge it")


class RankedSerializer(serializers.Serializer[Any]):
    candidate_id = serializers.UUIDField()
    place = serializers.IntegerField()
