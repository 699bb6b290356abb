"""The cost of a boat, for the API."""

from typing import Any

from rest_framework import serializers

from apps.appraisal.api.candidate_serializers import CandidateAnswerSerializer
from apps.appraisal.api.shapes import (
    AmountSerializer,
    RangeSerializer,
)
from apps.catalogue.vocabulary import AGES_WITH
from apps.purchase.models import Quote


class PartsSerializer(serializers.Serializer[Any]):
    """Expected parts of the all-in cost; their sum is its mean. The last two are not up front."""

    price = AmountSerializer()
    tax = AmountSerializer()
    purchase_costs = AmountSerializer()
    enabling = AmountSerializer(
        help_text="lift-out, unstepping the mast and the like, for work that cannot wait; paid once"
    )
    now = AmountSerializer(help_text="remedies that cannot wait")
    reserve = AmountSerializer()
    later = AmountSerializer(help_text="remedies that can wait")
    enabling_later = AmountSerializer(
        required=False, help_text="enabling work that only these remedies need"
    )


class PurchaseCostSerializer(serializers.Serializer[Any]):
    code = serializers.ChoiceField(["survey", "survey_lift_out", "transport", "registration"])
    amount = AmountSerializer()


class CausesSerializer(serializers.Serializer[Any]):
    """Expected work by the reason it is expected."""

    seen = AmountSerializer()
    disputed = AmountSerializer()
    not_seen = AmountSerializer()


class AreaCostSerializer(CausesSerializer):
    area = serializers.SlugField()
    title = serializers.CharField()
    expected = AmountSerializer(help_text="all work")
    later = AmountSerializer(required=False, help_text="the part of it that can wait")


class DriverSerializer(serializers.Serializer[Any]):
    remedy = serializers.SlugField()
    title = serializers.CharField()
    expected = AmountSerializer(help_text="expected cost, with its share of the enabling work")
    share_of_doubt = serializers.FloatField(help_text="its share of the variance of the work")


class FactorSerializer(serializers.Serializer[Any]):
    factor = serializers.FloatField(help_text="factor on the catalogue's price")
    groups = serializers.IntegerField(help_text="how many other groups' bills it is computed from")
    boats = serializers.IntegerField()


class RemedyCostSerializer(serializers.Serializer[Any]):
    remedy = serializers.SlugField()
    title = serializers.CharField()
    area = serializers.SlugField()
    probability = serializers.FloatField(help_text="probability that it is needed")
    expected = AmountSerializer()
    price = AmountSerializer(help_text="price of one unit if the remedy is needed")
    counted_by = serializers.CharField(
        allow_blank=True, help_text="what one unit is, if the remedy is counted in units"
    )
    urgency = serializers.ChoiceField(["now", "later"])
    done_by = serializers.ChoiceField(["group", "yard"])
    quoted = serializers.BooleanField()
    club_outcomes = FactorSerializer(
        allow_null=True, help_text="how the bills of the club move the price; null if they do not"
    )
    confidence = serializers.ChoiceField(["firm", "fair", "rough"])
    source = serializers.CharField()  # type: ignore[assignment]  # the framework takes fields off the class


class EnablingCostSerializer(serializers.Serializer[Any]):
    enabling = serializers.SlugField()
    title = serializers.CharField()
    probability = serializers.FloatField()
    expected = AmountSerializer()


class QuoteUsedSerializer(serializers.Serializer[Any]):
    quote_id = serializers.UUIDField()
    remedy = serializers.SlugField()
    amount = AmountSerializer()
    firmness = serializers.ChoiceField(Quote.Firmness.choices)
    includes_enabling = serializers.BooleanField()
    from_whom = serializers.CharField()
    dated_on = serializers.DateField()
    expired = serializers.BooleanField()


class RunningLineSerializer(serializers.Serializer[Any]):
    code = serializers.SlugField()
    title = serializers.CharField()
    expected = AmountSerializer()
    source = serializers.CharField()  # type: ignore[assignment]  # the framework takes fields off the class


class RunningYearSerializer(serializers.Serializer[Any]):
    """Low and high assume that all lines are low or high together, so they bound the year."""

    low = AmountSerializer()
    likely = AmountSerializer()
    high = AmountSerializer()
    expected = AmountSerializer()
    lines = RunningLineSerializer(many=True)


class OverYearsSerializer(serializers.Serializer[Any]):
    total = AmountSerializer(help_text="in today's money")
    a_year = AmountSerializer(help_text="the total as equal yearly sums")


class OwnershipSerializer(serializers.Serializer[Any]):
    """Cost of buying, repairing, keeping and selling. The resale price is unknown: low and high."""

    years = serializers.IntegerField()
    discount_rate = serializers.FloatField()
    if_worth_nothing_then = OverYearsSerializer()
    if_sold_for_the_price_paid = OverYearsSerializer()


class BuyerCostSerializer(serializers.Serializer[Any]):
    person_id = serializers.UUIDField()
    name = serializers.CharField()
    share = serializers.FloatField()
    upfront = AmountSerializer(required=False, help_text="expected cost before she sails")
    later = AmountSerializer(required=False, help_text="expected cost of work that can wait")
    expected = AmountSerializer(help_text="expected all-in cost: both together")
    high = AmountSerializer(help_text="all-in cost that one outcome in ten exceeds")
    running_year = AmountSerializer()


class AssumedSerializer(serializers.Serializer[Any]):
    code = serializers.ChoiceField(
        ["age_unknown", "price_index_year", "own_work_refused", "own_hours_used_up"]
    )
    sentence = serializers.CharField()
    part = serializers.ChoiceField(AGES_WITH, required=False)
    years = serializers.IntegerField(required=False)
    year = serializers.IntegerField(required=False, help_text="last year of the price index")
    carried_to = serializers.IntegerField(
        required=False, help_text="year to which prices are carried forward from there"
    )
    rate = serializers.FloatField(required=False, help_text="change of prices a year")
    remedy = serializers.SlugField(required=False)


class RollupSerializer(serializers.Serializer[Any]):
    """If something is missing, only `currency`, `missing` and `sentence` are given.

    Figures that an earlier version of the model did not have are left out until recomputed.
    """

    currency = serializers.CharField()
    missing = serializers.ListField(child=serializers.CharField())
    sentence = serializers.CharField(allow_blank=True)
    assumed = AssumedSerializer(many=True)
    upfront = RangeSerializer(
        required=False,
        help_text="cost before she sails: price, tax, fees, reserve, and the work that "
        "cannot wait with its enabling work; the budget has to cover it",
    )
    later = RangeSerializer(
        required=False, help_text="work that can wait, with the enabling work that only it needs"
    )
    all_in = RangeSerializer(required=False, help_text="upfront and later together")
    work = RangeSerializer(
        required=False, help_text="all remedies and enabling work, now and later"
    )
    budget = AmountSerializer(required=False)
    within_budget = serializers.FloatField(
        required=False, help_text="chance that the cost up front stays within the budget"
    )
    parts = PartsSerializer(required=False)
    purchase_costs = PurchaseCostSerializer(many=True, required=False)
    by_area = AreaCostSerializer(many=True, required=False)
    by_cause = CausesSerializer(required=False)
    drivers = DriverSerializer(many=True, required=False)
    remedies = RemedyCostSerializer(many=True, required=False)
    enabling = EnablingCostSerializer(many=True, required=False)
    quotes = QuoteUsedSerializer(many=True, required=False)
    running_year = RunningYearSerializer(required=False)
    ownership = OwnershipSerializer(required=False)
    per_buyer = BuyerCostSerializer(many=True)


class RollupAnswerSerializer(CandidateAnswerSerializer):
    rollup = RollupSerializer(allow_null=True, help_text="null until it is first computed")
