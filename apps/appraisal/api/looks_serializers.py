from typing import Any

from rest_framework import serializers

from apps.appraisal.api.candidate_serializers import CandidateAnswerSerializer
from apps.appraisal.api.shapes import (
    AmountSerializer,
    DerivedSerializer,
    NamedSerializer,
    WaitQuery,
)
from apps.viewings.api.serializers import LyingSerializer
from apps.viewings.conditions import CONDITIONS

# --- Next looks ----------------------------------------------------------------------------------

VISIT_KINDS = ("as_before", "nothing_in_the_way", "as_asked", "sea_trial")
QUESTION_KINDS = ("year", "not_seen", "price")


class NextLooksQuery(LyingSerializer, WaitQuery):
    """The conditions of a visit, if given: its value is then computed in the request."""

    trip_cost = serializers.FloatField(
        required=False, min_value=0, help_text="cost of going to see a boat, in the list's currency"
    )

    def validate(self, sent: dict[str, Any]) -> dict[str, Any]:
        conditions = {name: sent.pop(name) for name in CONDITIONS if name in sent}
        return {**sent, "conditions": conditions}


class LookSerializer(serializers.Serializer[Any]):
    candidate_id = serializers.UUIDField()
    name = serializers.CharField(help_text="name of the boat")
    sentence = serializers.CharField()


class CheckLookSerializer(LookSerializer):
    checkpoint = serializers.SlugField()
    title = serializers.CharField()
    area = serializers.SlugField()
    look = serializers.CharField(help_text="how to look")
    cautions = serializers.ListField(child=serializers.SlugField())
    person_id = serializers.UUIDField(
        allow_null=True, help_text="the member whose look is worth most"
    )
    person = serializers.CharField(required=False)
    looked_before = serializers.BooleanField()


class HamperedSerializer(serializers.Serializer[Any]):
    reason = serializers.CharField(help_text="a condition of the visit")
    checks = serializers.IntegerField(
        help_text="number of checks that it makes no better than a guess"
    )


class VisitLookSerializer(LookSerializer):
    kind = serializers.ChoiceField(VISIT_KINDS)
    hindrances = serializers.ListField(child=serializers.CharField())
    checks = serializers.IntegerField(
        help_text="how many checks can be made on the spot; questions by telephone are apart"
    )
    minutes = serializers.IntegerField(allow_null=True, help_text="minutes that the checks take")
    hampered = HamperedSerializer(
        many=True, help_text="conditions that make checks no better than a guess"
    )
    fee = AmountSerializer(
        required=False,
        allow_null=True,
        help_text="of a sea trial: launch, fuel and skipper; null if the catalogue has no figure",
    )


class LookValueSerializer(serializers.Serializer[Any]):
    value = AmountSerializer(help_text="the expected improvement of the choice")


class CheckValueSerializer(CheckLookSerializer, LookValueSerializer):
    at_most = AmountSerializer(help_text="the value if the look showed the true state")


class VisitValueSerializer(VisitLookSerializer, LookValueSerializer):
    pass


class SurveyValueSerializer(LookSerializer, LookValueSerializer):
    """`value`: for the choice between boats, and with what may be asked of the seller after it."""

    for_choice = AmountSerializer(required=False, help_text="the part for the choice alone")
    money_off = AmountSerializer(
        required=False, help_text="expected sum that the seller takes off for what it finds"
    )
    money_off_chance = serializers.FloatField(
        required=False, help_text="chance that a seller agrees, from the brief"
    )
    fee = AmountSerializer(
        help_text="fee with the lift-out; the buyer pays it in any case, now or later"
    )
    not_bought = serializers.FloatField(
        required=False, help_text="chance that after it another boat, or buying none, is better"
    )
    cost_now = AmountSerializer(
        required=False, help_text="the fee times the chance that you do not buy her after it"
    )
    changes_first = serializers.FloatField(
        required=False, help_text="chance that after it another boat comes first"
    )
    pays_now = serializers.BooleanField(
        help_text="whether it pays now: it may change which boat comes first, or her price, and is "
        "worth its cost now. You survey the boat that you buy in any case."
    )
    change_needed = AmountSerializer(
        allow_null=True,
        help_text="change of her price (below 0) at which the survey would pay; null if no price "
        "that a seller could be asked for makes it pay",
    )
    now = serializers.CharField(
        allow_blank=True,
        help_text="the part of the sentence about this boat, to list several boats under the rest; "
        "empty for results of an earlier method",
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
        help_text="valuation_hidden: other buyers gave valuations that you may not see",
    )


class MovesSerializer(serializers.Serializer[Any]):
    moves = AmountSerializer(
        help_text="by how much it is expected to move her expected cost, up or down"
    )


class CheckMovesSerializer(CheckLookSerializer, MovesSerializer):
    pass


class VisitMovesSerializer(VisitLookSerializer, MovesSerializer):
    pass


class QuestionMovesSerializer(SellerQuestionSerializer, MovesSerializer):
    pass


class LooksOfCostsSerializer(serializers.Serializer[Any]):
    """By how much looks would move the expected costs. Nobody's opinion of the boats is used."""

    checks = CheckMovesSerializer(many=True)
    visits = VisitMovesSerializer(many=True)
    questions = QuestionMovesSerializer(many=True)
    sentence = serializers.CharField()


class NextLooksSerializer(DerivedSerializer):
    list = NamedSerializer()
    currency = serializers.CharField()
    value = AmountSerializer(allow_null=True, help_text="expected value of the choice as it stands")
    ceiling = AmountSerializer(
        allow_null=True, help_text="the value of knowing everything: no look is worth more"
    )
    trip_cost = AmountSerializer(
        allow_null=True,
        help_text="null: it was not given, and the brief has no exchange rate for the usual one",
    )
    settled = serializers.BooleanField(help_text="no check and no visit is worth a trip")
    checks = CheckValueSerializer(many=True)
    visits = VisitValueSerializer(many=True)
    surveys = SurveyValueSerializer(
        many=True, help_text="of each boat that no surveyor has reported on as a whole"
    )
    questions = QuestionValueSerializer(many=True)
    left_out = LeftOutSerializer(many=True)
    of_costs = LooksOfCostsSerializer(help_text="values that are the same for every reader")
    sentences = serializers.ListField(child=serializers.CharField())


# --- Raters ----------------------------------------------------------------------------------


# --- Explanation ---------------------------------------------------------------------------------


class StepSerializer(serializers.Serializer[Any]):
    of = serializers.ChoiceField(
        ["asking", "offer", "expected_price", "tax", "purchase_costs", "work", "reserve", "later"],
        help_text="offer: the one on the table, in place of the asking price; work: work that "
        "cannot wait; later: work that can",
    )
    label = serializers.CharField()  # type: ignore[assignment]  # the framework takes fields off the class
    area = serializers.SlugField(allow_null=True)
    title = serializers.CharField(allow_null=True)
    cause = serializers.CharField(allow_null=True, help_text="for work: seen, disputed or not_seen")
    amount = AmountSerializer()
    total = AmountSerializer(help_text="so far")


class FactChangeSerializer(serializers.Serializer[Any]):
    """A fact that would change her place or her budget chance if it were different (recomputed)."""

    fact = serializers.ChoiceField(["level", "asking", "quote"])
    subject = serializers.CharField()
    title = serializers.CharField()
    effect = serializers.ChoiceField(["passes", "falls_behind", "within_budget", "over_budget"])
    other = serializers.UUIDField(allow_null=True)
    against_none = serializers.BooleanField(help_text="the alternative is to buy none")
    chance = serializers.FloatField(
        allow_null=True, help_text="probability of that level; null for prices"
    )
    now_level = serializers.IntegerField(required=False)
    then_level = serializers.IntegerField(required=False)
    now_amount = AmountSerializer(required=False)
    then_amount = AmountSerializer(required=False)
    sentence = serializers.CharField()


class ExplanationSerializer(CandidateAnswerSerializer):
    waterfall = StepSerializer(many=True, help_text="from the asking price to the mean all-in")
    changes = FactChangeSerializer(many=True)
    compared = serializers.BooleanField(
        help_text="false: she is not compared with the others (struck off, no price, or no "
        "valuation that you may see); then only changes to the budget chance are given"
    )
    sentences = serializers.ListField(
        child=serializers.CharField(), help_text="what is hidden from you, and when you may see it"
    )


# --- What if -------------------------------------------------------------------------------------
