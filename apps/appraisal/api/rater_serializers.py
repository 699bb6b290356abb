"""How each rater tends to grade, and how far raters agree, for the API."""

from typing import Any

from rest_framework import serializers

from apps.appraisal.api.shapes import (
    DerivedSerializer,
    NamedSerializer,
)
from apps.viewings.models import Submission


class TendencySerializer(serializers.Serializer[Any]):
    """In levels, with its 80% interval."""

    mean = serializers.FloatField()
    low = serializers.FloatField()
    high = serializers.FloatField()


class AreaTendencySerializer(serializers.Serializer[Any]):
    area = serializers.SlugField()
    title = serializers.CharField()
    findings = serializers.IntegerField()
    gap = serializers.FloatField(
        help_text="levels harder (above 0) than this person's usual grading"
    )
    standard_error = serializers.FloatField(allow_null=True)
    sentence = serializers.CharField(allow_blank=True)


class WhoSerializer(serializers.Serializer[Any]):
    kind = serializers.ChoiceField(Submission.Capacity.choices)
    person_id = serializers.UUIDField()
    name = serializers.CharField()
    profession = serializers.CharField(allow_blank=True)


class RaterSerializer(WhoSerializer):
    findings = serializers.IntegerField()
    lean = TendencySerializer(help_text="above 0: grades things worse than they are")
    spread = TendencySerializer(help_text="how far single reports scatter")
    by_area = AreaTendencySerializer(many=True)
    sentences = serializers.ListField(child=serializers.CharField())


class CoefficientSerializer(serializers.Serializer[Any]):
    """1 is full agreement, 0 is agreement by chance; low and high: 95% bootstrap interval."""

    value = serializers.FloatField(allow_null=True)
    low = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)
    units = serializers.IntegerField(help_text="how many checkpoints on boats it is computed from")
    reason = serializers.CharField(allow_null=True, help_text="why it has no value")


class ListAgreementSerializer(CoefficientSerializer):
    sentence = serializers.CharField()


class AreaAgreementSerializer(CoefficientSerializer):
    area = serializers.SlugField()
    title = serializers.CharField()


class PairAgreementSerializer(serializers.Serializer[Any]):
    first = WhoSerializer()
    second = WhoSerializer()
    common = serializers.IntegerField(help_text="how many checkpoints on boats both looked at")
    kappa = CoefficientSerializer(help_text="quadratically weighted")
    same = serializers.FloatField(allow_null=True, help_text="share at the same level")
    difference = serializers.FloatField(
        allow_null=True, help_text="mean of the first person's levels minus the second's"
    )


class AgreementSerializer(serializers.Serializer[Any]):
    list = ListAgreementSerializer(help_text="Krippendorff's alpha, ordinal")
    by_area = AreaAgreementSerializer(many=True)
    pairs = PairAgreementSerializer(many=True)


class RatersSerializer(DerivedSerializer):
    list = NamedSerializer()
    raters = RaterSerializer(many=True)
    agreement = AgreementSerializer(allow_null=True)
