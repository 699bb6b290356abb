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
        allow_null=True,
        help_text="1 is best; boats that are level share a place; null if struck off",
    )
    upfront = RangeSerializer(
        allow_null=True,
        help_text="cost before she sails: price, tax, fees, reserve, and the work that "
        "cannot wait with its enabling work; the budget has to cover it",
    )
    later = RangeSerializer(
        allow_null=True, help_text="work that can wait, with the enabling work that only it needs"
    )
    all_in = RangeSerializer(allow_null=True, help_text="upfront and later together")
    within_budget = serializers.FloatField(
        allow_null=True, help_text="chance that the cost up front stays within the budget"
    )
    condition = ConditionSerializer()
    missing = serializers.ListField(
        child=serializers.CharField(), help_text="facts that are needed to price her"
    )
    valuation_missing = serializers.BooleanField(help_text="nobody put a valuation on her")
    valuation = AmountSerializer(
        allow_null=True, help_text="value to the group; null if hidden or missing"
    )
    surplus = AmountSerializer(
        allow_null=True, help_text="worth minus the expected all-in cost; null if hidden or missing"
    )
    utility = AmountSerializer(
        allow_null=True,
        help_text="worth minus all-in cost, minus a penalty for going over the budget up front; "
        "the boats are ordered by it",
    )
    opinions_hidden = serializers.BooleanField(
        help_text="other buyers gave valuations; give yours to see the results that use them"
    )
    open_doubts = serializers.IntegerField()
    strike_off_advised = serializers.BooleanField()
    advice = AdviceSerializer(many=True)
    before_buying = ToBeJudgedSerializer(
        many=True,
        help_text="doubts to look at again together, and for a professional to judge before buying",
    )
    sentences = serializers.ListField(child=serializers.CharField())


class StruckOffRowSerializer(BoardRowSerializer):
    stage_reason = serializers.CharField(help_text="the reason that people gave")


class FurthestSerializer(serializers.Serializer[Any]):
    candidate_id = serializers.UUIDField()
    places = serializers.FloatField(
        help_text="how far below (above 0) or above (below 0) the group's place for her"
    )


class MemberOrderSerializer(serializers.Serializer[Any]):
    """One buyer's own order. Boats that the reader may not see yet are left out (`hidden`)."""

    person_id = serializers.UUIDField()
    name = serializers.CharField()
    share = serializers.FloatField()
    source = serializers.ChoiceField(["ballot", "valuations"])  # type: ignore[assignment]  # the framework takes fields off the class
    places = RankedSerializer(many=True)
    hidden = serializers.BooleanField()
    distance = serializers.FloatField(
        allow_null=True, help_text="share of pairs that the group orders the other way"
    )
    furthest = FurthestSerializer(many=True)
    sentence = serializers.CharField(allow_blank=True)


class ApartSerializer(serializers.Serializer[Any]):
    board = serializers.UUIDField(help_text="the boat that is higher on the board")
    votes = serializers.UUIDField(help_text="the boat that is higher by votes")


class VotesSerializer(serializers.Serializer[Any]):
    """The buyers' orders counted together. If `hidden`, it has only `weights` and `sentences`."""

    hidden = serializers.BooleanField()
    weights = serializers.ChoiceField(["share", "head"])
    schulze = RankedSerializer(many=True, required=False)
    borda = RankedSerializer(many=True, required=False)
    kemeny = RankedSerializer(
        many=True, required=False, allow_null=True, help_text="null above ten candidates"
    )
    preferred_to_all = serializers.UUIDField(
        required=False,
        allow_null=True,
        help_text="the boat that a majority prefers to every other one",
    )
    methods_agree = serializers.BooleanField(required=False)
    contested = serializers.ListField(
        child=serializers.ListField(child=serializers.UUIDField()),
        required=False,
        help_text="pairs that two methods order the opposite way",
    )
    concordance = serializers.FloatField(
        required=False,
        allow_null=True,
        help_text="Kendall's W: 1 if all orders agree, 0 if they have nothing in common",
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
        allow_null=True, help_text="whether the fit of levels and graders converged"
    )
    sentences = serializers.ListField(child=serializers.CharField())
    candidates = BoardRowSerializer(many=True, help_text="best first")
    struck_off = StruckOffRowSerializer(many=True)
    members = MemberOrderSerializer(many=True)
    votes = VotesSerializer(allow_null=True, help_text="null until a buyer has an order")


class OrderSerializer(DerivedSerializer):
    list = NamedSerializer()
    members = MemberOrderSerializer(many=True)
    votes = VotesSerializer(allow_null=True)
