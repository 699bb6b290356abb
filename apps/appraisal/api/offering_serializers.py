from typing import Any

from rest_framework import serializers

from apps.appraisal.api.candidate_serializers import CandidateAnswerSerializer
from apps.appraisal.api.shapes import AmountSerializer
from apps.appraisal.words.offering import WHY_NONE


class OfferLimitsSerializer(serializers.Serializer[Any]):
    """Prices beyond which the answer changes, rounded down; null: no price of 0 or more."""

    within_budget = AmountSerializer(
        allow_null=True,
        help_text="the highest price at which the cost before she sails stays within the budget "
        "with the list's confidence",
    )
    at_par = AmountSerializer(
        allow_null=True, help_text="at which her expected all-in is her valuation"
    )
    next_best = AmountSerializer(
        allow_null=True, help_text="at which the next best boat, or buying none, is as good"
    )
    next_best_is = serializers.UUIDField(allow_null=True, help_text="null: buying none")
    valued = serializers.BooleanField(
        help_text="false: no valuation that you may see, so only the budget limits the price"
    )


class OfferPlanSerializer(serializers.Serializer[Any]):
    opening = AmountSerializer()
    target = AmountSerializer()
    walk_away = AmountSerializer(help_text="the lowest of the limits")
    out_of_reach = serializers.BooleanField(
        help_text="whether it is further below the asking price than anybody asks of a seller"
    )
    chance_at_target = serializers.FloatField(
        help_text="of staying within the budget at the target"
    )


class PriceAtConfidenceSerializer(serializers.Serializer[Any]):
    confidence = serializers.FloatField()
    price = AmountSerializer(allow_null=True)


class OfferSensitivitySerializer(serializers.Serializer[Any]):
    """The highest price within the budget if one thing were different."""

    more_work = AmountSerializer(
        allow_null=True, help_text="with 1,000 more of work before she sails"
    )
    dearer_yard = AmountSerializer(allow_null=True, help_text="with a yard rate a tenth higher")
    cheaper_yard = AmountSerializer(allow_null=True, help_text="with a yard rate a tenth lower")
    by_confidence = PriceAtConfidenceSerializer(many=True)


class AmountRangeSerializer(serializers.Serializer[Any]):
    low = AmountSerializer()
    high = AmountSerializer()


class AskSerializer(serializers.Serializer[Any]):
    """One remedy that the seller could be asked to have done, or to take off the price."""

    remedy = serializers.SlugField()
    title = serializers.CharField()
    amount = AmountSerializer(
        help_text="expected if it is needed, with the enabling work that nothing else needs"
    )
    quoted = serializers.BooleanField()
    range = AmountRangeSerializer(
        allow_null=True, help_text="a surveyor's, if his estimate is the price that counts"
    )
    needed = serializers.FloatField(
        help_text="chance that it is needed; 1 if a surveyor priced it, whatever the levels say"
    )
    safety = serializers.BooleanField(
        help_text="whether a structural, safety or flooding checkpoint calls for it"
    )
    urgency = serializers.ChoiceField(["now", "later"])
    professional = serializers.BooleanField(
        help_text="whether a professional reported on what calls for it"
    )
    if_put_right = serializers.FloatField(
        help_text="chance of staying within the budget if the seller has it put right"
    )
    if_taken_off = serializers.FloatField(help_text="the same if the sum is taken off the price")
    sentence = serializers.CharField()


class AsksSerializer(serializers.Serializer[Any]):
    """`within`, `amount`, `if_put_right`, `if_taken_off`: as it is, and for all items together."""

    items = AskSerializer(many=True, help_text="safety first, then what cannot wait")
    within = serializers.FloatField()
    amount = AmountSerializer()
    if_put_right = serializers.FloatField()
    if_taken_off = serializers.FloatField()
    sentence = serializers.CharField()


class OfferingSerializer(serializers.Serializer[Any]):
    asking = AmountSerializer()
    price = AmountSerializer(help_text="reckoned with: the expected price, or the live offer")
    offered = serializers.BooleanField(help_text="whether that is a live offer")
    confidence = serializers.FloatField(help_text="the list's")
    within = serializers.FloatField(help_text="chance of staying within the budget at that price")
    sensitivity = OfferSensitivitySerializer()
    asks = AsksSerializer()
    limits = OfferLimitsSerializer()
    plan = OfferPlanSerializer(allow_null=True, help_text="null: no price is within all limits")
    plan_sentence = serializers.CharField()
    limit_sentences = serializers.ListField(child=serializers.CharField())
    sensitivity_sentences = serializers.ListField(child=serializers.CharField())


class NoOfferingSerializer(serializers.Serializer[Any]):
    """Why there is no advice on a price."""

    code = serializers.ChoiceField(
        WHY_NONE,
        help_text="not_priced: `missing` says what to give; not_computed: ask again in a moment",
    )
    missing = serializers.ListField(
        child=serializers.CharField(), help_text="asking_price, loa_m, exchange_rate:USD"
    )
    sentence = serializers.CharField()


class OfferAdviceSerializer(CandidateAnswerSerializer):
    offering = OfferingSerializer(allow_null=True, help_text="null: `why_none` says why")
    why_none = NoOfferingSerializer(allow_null=True, help_text="null if there is an offering")
    sentences = serializers.ListField(
        child=serializers.CharField(),
        help_text="what is hidden from you, and what holds for every offer",
    )
