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
    RangeSerializer,
    RankedSerializer,
    ToBeJudgedSerializer,
)


class BoardRowSerializer(serializers.Serializer[Any]):
    candidate_id = serializers.UUIDField()
    name = serializers.CharField()
    place = serializers.IntegerField(
        allow_null=True, help_text="1 is best, the level share one; null if struck off"
    )
    upfront = RangeSerializer(
        allow_null=True,
        help_text="what is paid before she sails: price, tax, fees, reserve, and the work that "
        "cannot wait with its enabling work; what the budget has to cover",
    )
    later = RangeSerializer(
        allow_null=True, help_text="work that can wait, with the enabling work that only it needs"
    )
    all_in = RangeSerializer(allow_null=True, help_text="upfront and later together")
    within_budget = serializers.FloatField(
        allow_null=True, help_text="chance that what is paid up front stays within the budget"
    )
    condition = ConditionSerializer()
    missing = serializers.ListField(
        child=serializers.CharField(), help_text="what she cannot be priced without"
    )
    valuation_missing = serializers.BooleanField(help_text="nobody put a valuation on her")
    valuation = AmountSerializer(
        allow_null=True, help_text="to the group; null if hidden or missing"
    )
    surplus = AmountSerializer(
        allow_null=True, help_text="worth less the expected all-in cost; null likewise"
    )
    utility = AmountSerializer(
        allow_null=True,
        help_text="worth less all-in, less what goes over the budget up front, which counts dear; "
        "what the order goes by",
    )
    opinions_hidden = serializers.BooleanField(
        help_text="others gave valuations; give yours to see what follows from them"
    )
    open_doubts = serializers.IntegerField()
    strike_off_advised = serializers.BooleanField()
    advice = AdviceSerializer(many=True)
    before_buying = ToBeJudgedSerializer(
        many=True, help_text="to look at again side by side, and for a professional to judge first"
    )
    sentences = serializers.ListField(child=serializers.CharField())


class StruckOffRowSerializer(BoardRowSerializer):
    stage_reason = serializers.CharField(help_text="why people struck her off")


class FurthestSerializer(serializers.Serializer[Any]):
    candidate_id = serializers.UUIDField()
    places = serializers.FloatField(help_text="lower (above 0) or higher than the group has her")


class MemberOrderSerializer(serializers.Serializer[Any]):
    """A buyer's own order. What the reader may not see yet is left out, and `hidden` says so."""

    person_id = serializers.UUIDField()
    name = serializers.CharField()
    share = serializers.FloatField()
    source = serializers.ChoiceField(["ballot", "valuations"])  # type: ignore[assignment]  # the framework takes fields off the class
    places = RankedSerializer(many=True)
    hidden = serializers.BooleanField()
    distance = serializers.FloatField(
        allow_null=True, help_text="share of pairs ordered otherwise than by the group"
    )
    furthest = FurthestSerializer(many=True)
    sentence = serializers.CharField(allow_blank=True)


class ApartSerializer(serializers.Serializer[Any]):
    board = serializers.UUIDField(help_text="which the board has above the other")
    votes = serializers.UUIDField(help_text="which the votes have above the other")


class VotesSerializer(serializers.Serializer[Any]):
    """The buyers' orders counted together; only `hidden`, `weights` and `sentences` if hidden."""

    hidden = serializers.BooleanField()
    weights = serializers.ChoiceField(["share", "head"])
    schulze = RankedSerializer(many=True, required=False)
    borda = RankedSerializer(many=True, required=False)
    kemeny = RankedSerializer(
        many=True, required=False, allow_null=True, help_text="null above ten candidates"
    )
    preferred_to_all = serializers.UUIDField(
        required=False, allow_null=True, help_text="whom a majority prefers to each other one"
    )
    methods_agree = serializers.BooleanField(required=False)
    contested = serializers.ListField(
        child=serializers.ListField(child=serializers.UUIDField()),
        required=False,
        help_text="pairs that two methods put the opposite way",
    )
    concordance = serializers.FloatField(
        required=False, allow_null=True, help_text="Kendall's W: 1 all the same, 0 nothing common"
    )
    differs_from_board = ApartSerializer(many=True, required=False)
    sentences = serializers.ListField(child=serializers.CharField())


class BoardSerializer(DerivedSerializer):
    list = NamedSerializer()
    currency = serializers.CharField()
    budget = AmountSerializer(allow_null=True)
    required_confidence = serializers.FloatField(allow_null=True)
    priors = PriorsSerializer
    club_outcomes = OutcomesSerializer
    converged = serializers.BooleanField(
        allow_null=True, help_text="whether the fit of levels and graders settled"
    )
    sentences = serializers.ListField(child=serializers.CharField())
    candidates = BoardRowSerializer(many=True, help_text="best first")
    struck_off = StruckOffRowSerializer(many=True)
    members = MemberOrderSerializer(many=True)
    votes = VotesSerializer(allow_null=True, help_text="null while no buyer has an order")


class OrderSerializer(DerivedSerializer):
    list = NamedSerializer()
    members = MemberOrderSerializer(many=True)
    votes = VotesSerializer(allow_null=True)
