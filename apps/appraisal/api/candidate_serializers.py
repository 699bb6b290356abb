from typing import Any

from rest_framework import serializers

from apps.appraisal.api.shapes import (
    AdviceSerializer,
    AmountSerializer,
    ConditionSerializer,
    DerivedSerializer,
    NamedSerializer,
    OutcomesSerializer,
    PriorsSerializer,
    ToBeJudgedSerializer,
    WantedSerializer,
)
from apps.catalogue.vocabulary import AGES_WITH
from apps.sellers.models import SellerAnswer
from apps.viewings.models import Finding


class CandidateAnswerSerializer(DerivedSerializer):
    candidate = NamedSerializer()
    list_id = serializers.UUIDField()


# --- Rollup --------------------------------------------------------------------------------------


# --- Consensus -----------------------------------------------------------------------------------


class StatementSerializer(serializers.Serializer[Any]):
    person_id = serializers.UUIDField(allow_null=True)
    name = serializers.CharField(allow_blank=True)
    submission_id = serializers.UUIDField(required=False)
    seen_at = serializers.CharField()


class ReportSerializer(StatementSerializer):
    kind = serializers.ChoiceField(
        ["member", "professional", "meter", "sound", "document", "seller"],
        help_text="a seller's answer is no look",
    )
    said_by = serializers.ChoiceField(
        SellerAnswer.SaidBy.choices, required=False, help_text="of a seller's answer"
    )
    profession = serializers.CharField(allow_blank=True)
    level = serializers.IntegerField(min_value=0, max_value=4)
    sureness = serializers.ChoiceField(Finding.Sureness.choices)
    differs = serializers.BooleanField(
        help_text="a level or more away from the others, after the correction for lean"
    )


class NotLookedSerializer(StatementSerializer):
    reason = serializers.CharField()


class DoubtSerializer(StatementSerializer):
    level = serializers.IntegerField(min_value=0, max_value=4)
    judged_by = serializers.CharField()
    receipt = serializers.BooleanField(
        required=False, help_text="a receipt for renewal or service closes it"
    )


class CheckpointConsensusSerializer(serializers.Serializer[Any]):
    checkpoint = serializers.SlugField()
    title = serializers.CharField()
    area = serializers.SlugField()
    concerns = serializers.ListField(child=serializers.CharField())
    cause = serializers.ChoiceField(["seen", "disputed", "not_seen"])
    levels = serializers.ListField(
        child=serializers.FloatField(),
        min_length=5,
        max_length=5,
        help_text="probability of each level, from sound to failed",
    )
    mean = serializers.FloatField()
    interval = serializers.ListField(
        child=serializers.IntegerField(), min_length=2, max_length=2, help_text="80%"
    )
    entropy_bits = serializers.FloatField(help_text="0: certain; 2.32: all levels equally likely")
    looks = serializers.IntegerField(help_text="how many people looked")
    worst_credible = serializers.IntegerField(
        allow_null=True,
        help_text="structural, safety and flooding only: worst level at 10% or more",
    )
    judged_by = serializers.CharField(
        allow_blank=True, help_text="the professional who must judge it"
    )
    doubt = DoubtSerializer(
        allow_null=True, help_text="a doubt that somebody raised and nobody has cleared"
    )
    reports = ReportSerializer(many=True)
    could_not_look = NotLookedSerializer(many=True)


class CareSerializer(serializers.Serializer[Any]):
    """Probabilities of how well the boat was kept."""

    cherished = serializers.FloatField()
    ordinary = serializers.FloatField()
    neglected = serializers.FloatField()


class RuledOutSerializer(serializers.Serializer[Any]):
    checkpoint = serializers.SlugField()
    stated_by = StatementSerializer(many=True)


class PartAgeSerializer(serializers.Serializer[Any]):
    part = serializers.ChoiceField(AGES_WITH)
    years = serializers.IntegerField(help_text="years since it was built or renewed")
    known = serializers.BooleanField(help_text="false: an assumed age")


class ConsensusSerializer(serializers.Serializer[Any]):
    condition = ConditionSerializer()
    sentence = serializers.CharField()
    care = CareSerializer(allow_null=True)
    ages = PartAgeSerializer(many=True)
    priors = PriorsSerializer
    club_outcomes = OutcomesSerializer
    converged = serializers.BooleanField(
        allow_null=True, help_text="whether the fit of levels and graders converged"
    )
    sentences = serializers.ListField(child=serializers.CharField())
    checkpoints = CheckpointConsensusSerializer(many=True)
    ruled_out = RuledOutSerializer(
        many=True, help_text="checkpoints that people said do not apply to her"
    )


class ConsensusAnswerSerializer(CandidateAnswerSerializer):
    consensus = ConsensusSerializer(allow_null=True)


# --- Reasons -------------------------------------------------------------------------------------


class NeighbourSerializer(serializers.Serializer[Any]):
    candidate_id = serializers.UUIDField()
    ahead = serializers.BooleanField(help_text="whether it is before her in the order")
    level = serializers.BooleanField(required=False, help_text="whether it shares her place")
    apart = AmountSerializer(
        allow_null=True, help_text="difference in expected utility; null if hidden or not known"
    )
    against = AmountSerializer(
        allow_null=True,
        help_text="given if the expected surplus alone would reverse the two: by how much",
    )
    sentence = serializers.CharField()


class OpenDoubtSerializer(DoubtSerializer):
    checkpoint = serializers.SlugField()
    title = serializers.CharField()
    concerns = serializers.ListField(child=serializers.CharField())
    mean = serializers.FloatField()
    sentence = serializers.CharField()


class WalkAwaySerializer(serializers.Serializer[Any]):
    checkpoint = serializers.SlugField()
    title = serializers.CharField()
    level = serializers.IntegerField(help_text="the level at which people walk away")
    probability = serializers.FloatField()
    looked = serializers.BooleanField()
    judged_by = serializers.CharField(allow_blank=True)
    sentence = serializers.CharField()


class WantMetSerializer(WantedSerializer):
    name = serializers.CharField()
    must = serializers.BooleanField()
    weight = serializers.IntegerField()
    met = serializers.BooleanField(allow_null=True, help_text="null: not known yet")
    sentence = serializers.CharField()


class WantsShareSerializer(serializers.Serializer[Any]):
    person_id = serializers.UUIDField()
    name = serializers.CharField()
    share = serializers.FloatField(
        allow_null=True, help_text="share of the weight of those wants whose answer is known"
    )


class ReasonsSerializer(serializers.Serializer[Any]):
    place = serializers.IntegerField(
        allow_null=True,
        help_text="1 is best; boats that are level share a place; null if struck off",
    )
    of = serializers.IntegerField()
    stage = serializers.CharField()
    stage_reason = serializers.CharField(allow_blank=True)
    strike_off_advised = serializers.BooleanField()
    advice = AdviceSerializer(many=True)
    before_buying = ToBeJudgedSerializer(many=True)
    compared = NeighbourSerializer(many=True)
    doubts = OpenDoubtSerializer(many=True)
    walk_away = WalkAwaySerializer(many=True)
    wants = WantMetSerializer(many=True)
    wants_met = WantsShareSerializer(many=True)
    missing = serializers.ListField(child=serializers.CharField())
    sentence = serializers.CharField(allow_blank=True)


class ReasonsAnswerSerializer(CandidateAnswerSerializer):
    reasons = ReasonsSerializer(allow_null=True)
