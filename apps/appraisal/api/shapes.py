"""Shapes that derived answers share, for the schema. Answers are given as they are stored."""

from copy import deepcopy
from typing import Any

from drf_spectacular.utils import inline_serializer
from rest_framework import serializers

from apps.appraisal.board.strike_off import REASONS
from apps.boats.api.fields import WantedValueField
from apps.catalogue.api.serializers import EditionsSerializer
from apps.common.processes.waiting import LONGEST
from apps.http.fields import WarningSerializer


class WaitQuery(serializers.Serializer[Any]):
    wait = serializers.FloatField(
        default=0,
        min_value=0,
        max_value=LONGEST,
        help_text="longest time in seconds to wait for a fresh answer; where very many wait "
        "already, the answer comes at once",
    )


class AmountSerializer(serializers.Serializer[Any]):
    """Money to the whole unit; below zero where something gets cheaper."""

    amount = serializers.CharField(help_text="decimal text")
    currency = serializers.CharField(help_text="ISO 4217")


class RangeSerializer(serializers.Serializer[Any]):
    """A cost: low, likely and high are its 10th, 50th and 90th percentile; and its mean."""

    low = serializers.CharField()
    likely = serializers.CharField()
    high = serializers.CharField()
    mean = serializers.CharField()
    currency = serializers.CharField()


class DerivedSerializer(serializers.Serializer[Any]):
    """Fields that every derived answer begins with."""

    revision = serializers.IntegerField(
        help_text="revision of the inputs it was computed from; 0: none yet"
    )
    fresh = serializers.BooleanField(help_text="whether nothing it depends on has changed since")
    computed_at = serializers.DateTimeField(allow_null=True)
    method = serializers.CharField(help_text="the model's version")
    editions = EditionsSerializer(help_text="editions of the catalogue it was computed with")
    caution = serializers.CharField()
    failing = serializers.BooleanField(
        help_text="the last attempt failed, and the service tries again; or nobody works on it at "
        "the moment"
    )
    warnings = WarningSerializer(many=True)


PriorsSerializer = inline_serializer(
    "Priors",
    {
        "from": serializers.ChoiceField(
            ["catalogue", "club"],
            help_text="club: the catalogue's, adjusted by findings of the club's other groups",
        ),
        "groups": serializers.IntegerField(help_text="how many other groups contributed"),
        "boats": serializers.IntegerField(help_text="how many of their boats contributed"),
        "computed_at": serializers.DateTimeField(allow_null=True),
    },
    allow_null=True,
    help_text="source of the priors: what to expect before anybody looks",
)


OutcomesSerializer = inline_serializer(
    "OutcomesUsed",
    {
        "groups": serializers.IntegerField(help_text="how many other groups contributed"),
        "boats": serializers.IntegerField(help_text="how many of their boats contributed, at most"),
        "computed_at": serializers.DateTimeField(),
        "checkpoints": serializers.ListField(
            child=serializers.SlugField(), help_text="checkpoints whose priors surveys moved"
        ),
        "remedies": serializers.ListField(
            child=serializers.SlugField(), help_text="remedies whose price bills moved"
        ),
    },
    allow_null=True,
    help_text="the club's statistics of surveys and bills that this was computed with, if any",
)


class NamedSerializer(serializers.Serializer[Any]):
    id = serializers.UUIDField()
    name = serializers.CharField()


class WorstStructuralSerializer(serializers.Serializer[Any]):
    level = serializers.IntegerField(min_value=0, max_value=4)
    checkpoint = serializers.SlugField()
    title = serializers.CharField()


class ConditionSerializer(serializers.Serializer[Any]):
    """From 0, all failed, to 100, all sound; null if nothing is known."""

    score = serializers.FloatField(allow_null=True)
    low = serializers.FloatField(allow_null=True, help_text="end of the 80% interval")
    high = serializers.FloatField(allow_null=True)
    uncorrected = serializers.FloatField(
        allow_null=True, help_text="the same score from the plain mean of the reports"
    )
    coverage = serializers.FloatField(
        allow_null=True, help_text="share of the weight that anybody looked at"
    )
    worst_structural = WorstStructuralSerializer(
        allow_null=True,
        required=False,
        help_text="the worst credible level of any structural checkpoint that anybody looked at, "
        "which the score's average hides; null if nobody looked at any",
    )


class WantedSerializer(serializers.Serializer[Any]):
    """The parts of a want."""

    want_id = serializers.UUIDField()
    person_id = serializers.UUIDField()
    subject = serializers.CharField()
    key = serializers.CharField(allow_blank=True)
    test = serializers.CharField(allow_blank=True)
    wanted = WantedValueField(allow_null=True)
    text = serializers.CharField(allow_blank=True)


class AdviceSerializer(serializers.Serializer[Any]):
    """A reason to strike off: its code, its sentence, and the numbers of that code."""

    code = serializers.ChoiceField(list(REASONS))
    sentence = serializers.CharField()

    def get_fields(self) -> dict[str, Any]:
        fields = super().get_fields()
        for reason in REASONS.values():
            fields |= deepcopy(dict(reason.fields))
        return fields


class ToBeJudgedSerializer(serializers.Serializer[Any]):
    """A grave doubt that is not yet a reason to strike off, with the professional who must judge
    it.
    """

    code = serializers.ChoiceField(["to_be_judged"])
    sentence = serializers.CharField()
    checkpoint = serializers.SlugField()
    title = serializers.CharField()
    level = serializers.IntegerField(
        min_value=0, max_value=4, help_text="the level that somebody reported"
    )
    judged_by = serializers.CharField()
    probability = serializers.FloatField(
        allow_null=True,
        help_text="probability of the level to walk away from; null if there is no such level",
    )
    seen_by = serializers.IntegerField(help_text="how many people reported that level")
    seen_otherwise = serializers.IntegerField(help_text="how many looked and did not report it")
    judged = serializers.BooleanField(help_text="whether one of those who reported it may judge it")


class RankedSerializer(serializers.Serializer[Any]):
    candidate_id = serializers.UUIDField()
    place = serializers.IntegerField()
