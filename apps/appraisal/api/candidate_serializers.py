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
    kind = serializers.ChoiceField(["member", "professional", "meter", "sound", "document"])
    profession = serializers.CharField(allow_blank=True)
    level = serializers.IntegerField(min_value=0, max_value=4)
    sureness = serializers.ChoiceField(Finding.Sureness.choices)
    differs = serializers.BooleanField(
        help_text="a level or more from the others after correcting for lean"
    )


class NotLookedSerializer(StatementSerializer):
    reason = serializers.CharField()


class DoubtSerializer(StatementSerializer):
    level = serializers.IntegerField(min_value=0, max_value=4)
    judged_by = serializers.CharField()
    receipt = serializers.BooleanField(
        required=False, help_text="a receipt for what was renewed or serviced closes it"
    )


class CheckpointConsensusSerializer(serializers.Serializer[Any]):
    checkpoint = serializers.SlugField()
    title = serializers.CharField()
    area = serializers.SlugField()
    concerns = serializers.ListField(child=serializers.CharField())
    cause = serializers.ChoiceField(["seen", "disputed", "not_seen"])
    levels = serializers.ListField(
        child=serializers.FloatField(), min_length=5, max_length=5, help_text="sound to failed"
    )
    mean = serializers.FloatField()
    interval = serializers.ListField(
        child=serializers.IntegerField(), min_length=2, max_length=2, help_text="80%"
    )
    entropy_bits = serializers.FloatField(help_text="0 certain, 2.32 anything goes")
    looks = serializers.IntegerField(help_text="by how many people")
    worst_credible = serializers.IntegerField(
        allow_null=True,
        help_text="structural, safety and flooding only: worst level at 10% or more",
    )
    judged_by = serializers.CharField(
        allow_blank=True, help_text="the professional who must judge it"
    )
    doubt = DoubtSerializer(allow_null=True, help_text="raised by somebody, cleared by nobody")
    reports = ReportSerializer(many=True)
    could_not_look = NotLookedSerializer(many=True)


class CareSerializer(serializers.Serializer[Any]):
    """How well she seems to have been kept, as probabilities."""

    cherished = serializers.FloatField()
    ordinary = serializers.FloatField()
    neglected = serializers.FloatField()


class RuledOutSerializer(serializers.Serializer[Any]):
    checkpoint = serializers.SlugField()
    stated_by = StatementSerializer(many=True)


class PartAgeSerializer(serializers.Serializer[Any]):
    part = serializers.ChoiceField(AGES_WITH)
    years = serializers.IntegerField(help_text="since it was built or renewed")
    known = serializers.BooleanField(help_text="false: what it is taken for")


class ConsensusSerializer(serializers.Serializer[Any]):
    condition = ConditionSerializer()
    sentence = serializers.CharField()
    care = CareSerializer(allow_null=True)
    ages = PartAgeSerializer(many=True)
    priors = PriorsSerializer
    club_outcomes = OutcomesSerializer
    converged = serializers.BooleanField(
        allow_null=True, help_text="whether the fit of levels and graders settled"
    )
    sentences = serializers.ListField(child=serializers.CharField())
    checkpoints = CheckpointConsensusSerializer(many=True)
    ruled_out = RuledOutSerializer(many=True, help_text="what people said does not apply to her")


class ConsensusAnswerSerializer(CandidateAnswerSerializer):
    consensus = ConsensusSerializer(allow_null=True)


# --- Reasons -------------------------------------------------------------------------------------


class NeighbourSerializer(serializers.Serializer[Any]):
    candidate_id = serializers.UUIDField()
    ahead = serializers.BooleanField(help_text="stands before her")
    level = serializers.BooleanField(required=False, help_text="shares her place")
    apart = AmountSerializer(allow_null=True, help_text="null if hidden or not known")
    against = AmountSerializer(
        allow_null=True,
        help_text="by how much the expected surplus alone would put them the other way round",
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
    level = serializers.IntegerField(help_text="from which people walk away")
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
        allow_null=True, help_text="of the weight of the wants that are known"
    )


class ReasonsSerializer(serializers.Serializer[Any]):
    place = serializers.IntegerField(
        allow_null=True, help_text="1 is best, the level share one; null if struck off"
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
