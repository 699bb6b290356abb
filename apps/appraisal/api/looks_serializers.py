from typing import Any

from rest_framework import serializers

from apps.appraisal.api.candidate_serializers import CandidateAnswerSerializer
from apps.appraisal.api.shapes import (
    AmountSerializer,
    DerivedSerializer,
    NamedSerializer,
    WaitQuery,
)
from apps.viewings.api.serializers import ConditionsSerializer
from apps.viewings.models import CONDITIONS

# --- Next looks ----------------------------------------------------------------------------------

VISIT_KINDS = ("as_before", "nothing_in_the_way", "as_asked")
QUESTION_KINDS = ("year", "not_seen", "price")


class NextLooksQuery(ConditionsSerializer, WaitQuery):
    """Conditions ask what a visit in just these is worth; that is worked out on the spot."""

    trip_cost = serializers.FloatField(
        required=False, min_value=0, help_text="of going to see a boat, in the list's currency"
    )

    def validate(self, sent: dict[str, Any]) -> dict[str, Any]:
        conditions = {name: sent.pop(name) for name in CONDITIONS if name in sent}
        return {**sent, "conditions": conditions}


class LookSerializer(serializers.Serializer[Any]):
    candidate_id = serializers.UUIDField()
    name = serializers.CharField(help_text="of the boat")
    sentence = serializers.CharField()


class CheckSerializer(LookSerializer):
    checkpoint = serializers.SlugField()
    title = serializers.CharField()
    area = serializers.SlugField()
    look = serializers.CharField(help_text="how to look")
    cautions = serializers.ListField(child=serializers.SlugField())
    person_id = serializers.UUIDField(allow_null=True, help_text="who had best look")
    person = serializers.CharField(required=False)
    looked_before = serializers.BooleanField()


class HamperedSerializer(serializers.Serializer[Any]):
    reason = serializers.CharField(help_text="a condition of the visit")
    checks = serializers.IntegerField(help_text="how many it makes a guess of")


class VisitSerializer(LookSerializer):
    kind = serializers.ChoiceField(VISIT_KINDS)
    hindrances = serializers.ListField(child=serializers.CharField())
    checks = serializers.IntegerField(help_text="how many can be made on the spot; calls are apart")
    minutes = serializers.IntegerField(allow_null=True, help_text="that the checks take")
    hampered = HamperedSerializer(
        many=True, help_text="of the checks, those that are no better than a guess, and why"
    )


class LookValueSerializer(serializers.Serializer[Any]):
    value = AmountSerializer(help_text="what it is expected to improve the choice by")


class CheckValueSerializer(CheckSerializer, LookValueSerializer):
    at_most = AmountSerializer(help_text="if it were seen just as it is")


class VisitValueSerializer(VisitSerializer, LookValueSerializer):
    pass


class SurveyValueSerializer(LookSerializer, LookValueSerializer):
    fee = AmountSerializer(
        help_text="with the lift-out for it; whoever buys her pays it anyway, now or later"
    )
    not_bought = serializers.FloatField(
        required=False, help_text="chance that after it another boat or none is better"
    )
    cost_now = AmountSerializer(
        required=False, help_text="the fee times the chance that she is not bought after it"
    )
    changes_first = serializers.FloatField(
        required=False, help_text="chance that after it another comes first than before"
    )
    pays_now = serializers.BooleanField(
        help_text="now, for the choice: it may change which comes first, and is worth what it "
        "costs now. The boat that is bought is surveyed anyway."
    )
    change_needed = AmountSerializer(
        allow_null=True,
        help_text="of her price for it to pay, below 0; null if no price makes it pay that a "
        "seller could be asked for",
    )


class SellerQuestionSerializer(LookSerializer):
    kind = serializers.ChoiceField(QUESTION_KINDS)
    subject = serializers.CharField(allow_blank=True)
    title = serializers.CharField(allow_blank=True)
    ask = serializers.CharField(
        required=False,
        allow_blank=True,
        help_text="the catalogue's question for the seller; none for a price",
    )


class QuestionValueSerializer(SellerQuestionSerializer):
    price = AmountSerializer(required=False)
    value = AmountSerializer(allow_null=True)


class LeftOutSerializer(LookSerializer):
    why = serializers.ChoiceField(
        ["not_priced", "valuation_missing", "valuation_hidden"],
        help_text="valuation_hidden: others gave valuations that you may not see",
    )


class MovesSerializer(serializers.Serializer[Any]):
    moves = AmountSerializer(
        help_text="how far it is expected to move what she is thought to cost, up or down"
    )


class CheckMovesSerializer(CheckSerializer, MovesSerializer):
    pass


class VisitMovesSerializer(VisitSerializer, MovesSerializer):
    pass


class QuestionMovesSerializer(SellerQuestionSerializer, MovesSerializer):
    pass


class LooksOfCostsSerializer(serializers.Serializer[Any]):
    """What looks would tell of costs: it rests on nobody's opinion of the boats."""

    checks = CheckMovesSerializer(many=True)
    visits = VisitMovesSerializer(many=True)
    questions = QuestionMovesSerializer(many=True)
    sentence = serializers.CharField()


class NextLooksSerializer(DerivedSerializer):
    list = NamedSerializer()
    currency = serializers.CharField()
    value = AmountSerializer(allow_null=True, help_text="of the choice as it stands")
    ceiling = AmountSerializer(
        allow_null=True, help_text="what knowing everything would be worth: no look is worth more"
    )
    trip_cost = AmountSerializer(
        allow_null=True,
        help_text="null: nobody said, and the brief has no exchange rate for the usual one",
    )
    settled = serializers.BooleanField(help_text="no check and no visit is worth a trip")
    checks = CheckValueSerializer(many=True)
    visits = VisitValueSerializer(many=True)
    surveys = SurveyValueSerializer(many=True)
    questions = QuestionValueSerializer(many=True)
    left_out = LeftOutSerializer(many=True)
    of_costs = LooksOfCostsSerializer(help_text="the same for every reader")
    sentences = serializers.ListField(child=serializers.CharField())


# --- Raters ----------------------------------------------------------------------------------


# --- Explanation ---------------------------------------------------------------------------------


class StepSerializer(serializers.Serializer[Any]):
    of = serializers.ChoiceField(
        ["asking", "expected_price", "tax", "purchase_costs", "work", "reserve", "later"],
        help_text="work: what cannot wait; later: work that can",
    )
    label = serializers.CharField()  # type: ignore[assignment]  # the framework takes fields off the class
    area = serializers.SlugField(allow_null=True)
    title = serializers.CharField(allow_null=True)
    cause = serializers.CharField(allow_null=True, help_text="of work: seen, disputed or not_seen")
    amount = AmountSerializer()
    total = AmountSerializer(help_text="so far")


class FactChangeSerializer(serializers.Serializer[Any]):
    """A fact that would move her if it were otherwise: worked out, not read off a threshold."""

    fact = serializers.ChoiceField(["level", "asking", "quote"])
    subject = serializers.CharField()
    title = serializers.CharField()
    effect = serializers.ChoiceField(["passes", "falls_behind", "within_budget", "over_budget"])
    other = serializers.UUIDField(allow_null=True)
    against_none = serializers.BooleanField(help_text="the other is to buy none")
    chance = serializers.FloatField(allow_null=True, help_text="that it is so; levels only")
    now_level = serializers.IntegerField(required=False)
    then_level = serializers.IntegerField(required=False)
    now_amount = AmountSerializer(required=False)
    then_amount = AmountSerializer(required=False)
    sentence = serializers.CharField()


class ExplanationSerializer(CandidateAnswerSerializer):
    waterfall = StepSerializer(many=True, help_text="from the asking price to the mean all-in")
    changes = FactChangeSerializer(many=True)
    compared = serializers.BooleanField(
        help_text="false: she takes no part in the comparison (struck off, no price or "
        "valuation that you may see); then only changes on the budget are told"
    )
    sentences = serializers.ListField(
        child=serializers.CharField(), help_text="what is hidden from you, and until when"
    )


# --- What if -------------------------------------------------------------------------------------
