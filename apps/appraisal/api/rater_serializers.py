"""How each rater tends to see, and how far they agree, for the API."""

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
    gap = serializers.FloatField(help_text="levels harder (above 0) than this one's usual")
    standard_error = serializers.FloatField(allow_null=True)
    sentence = serializers.CharField(allow_blank=True)


class WhoSerializer(serializers.Serializer[Any]):
    kind = serializers.ChoiceField(Submission.Capacity.choices)
    person_id = serializers.UUIDField()
    name = serializers.CharField()
    profession = serializers.CharField(allow_blank=True)


class RaterSerializer(WhoSerializer):
    findings = serializers.IntegerField()
    lean = TendencySerializer(help_text="above 0: sees things harder than they are")
    spread = TendencySerializer(help_text="how far single reports stray")
    by_area = AreaTendencySerializer(many=True)
    sentences = serializers.ListField(child=serializers.CharField())


class CoefficientSerializer(serializers.Serializer[Any]):
    """1 is full agreement, 0 what chance would give; a bootstrap interval of 95%."""

    value = serializers.FloatField(allow_null=True)
    low = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)
    units = serializers.IntegerField(help_text="checkpoints on boats that it rests on")
    reason = serializers.CharField(allow_null=True, help_text="why it has no value")


class ListAgreementSerializer(CoefficientSerializer):
    sentence = serializers.CharField()


class AreaAgreementSerializer(CoefficientSerializer):
    area = serializers.SlugField()
    title = serializers.CharField()


class PairAgreementSerializer(serializers.Serializer[Any]):
    first = WhoSerializer()
    second = WhoSerializer()
    common = serializers.IntegerField(help_text="what both looked at")
    kappa = CoefficientSerializer(help_text="quadratically weighted")
    same = serializers.FloatField(allow_null=True, help_text="share at the same level")
    difference = serializers.FloatField(
        allow_null=True, help_text="mean of the first's levels less the second's"
    )


class AgreementSerializer(serializers.Serializer[Any]):
    list = ListAgreementSerializer(help_text="Krippendorff's alpha, ordinal")
    by_area = AreaAgreementSerializer(many=True)
    pairs = PairAgreementSerializer(many=True)


class RatersSerializer(DerivedSerializer):
    list = NamedSerializer()
    raters = RaterSerializer(many=True)
    agreement = AgreementSerializer(allow_null=True)
