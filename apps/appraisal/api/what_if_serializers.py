"""What-if: the requested changes and their results."""

from typing import Any

from rest_framework import serializers

from apps.appraisal.api.shapes import (
    AdviceSerializer,
    ConditionSerializer,
    NamedSerializer,
    RangeSerializer,
    ToBeJudgedSerializer,
)
from apps.appraisal.board.what_if_changes import (
    FindingChange,
    PriceChange,
    QuoteChange,
    WhatIfChanges,
)
from apps.boats.api.fields import StrictBody
from apps.http.fields import MoneyField


class PriceChangeBody(StrictBody):
    candidate_id = serializers.UUIDField()
    asking = MoneyField()


class QuoteChangeBody(StrictBody):
    candidate_id = serializers.UUIDField()
    remedy = serializers.SlugField()
    price = MoneyField()
    includes_enabling = serializers.BooleanField(
        default=False, help_text="the price includes lift-out, unstepping the mast and the like"
    )


class FindingChangeBody(StrictBody):
    candidate_id = serializers.UUIDField()
    checkpoint = serializers.SlugField()
    level = serializers.IntegerField(min_value=0, max_value=4)


class WhatIfBody(StrictBody):
    """The changes to try; leave out what stays the same."""

    budget = MoneyField(required=False)
    yard_hourly_rate = MoneyField(required=False)
    own_remedies = serializers.ListField(
        child=serializers.SlugField(), required=False, max_length=100
    )
    own_hours = serializers.IntegerField(required=False, min_value=0, max_value=10_000)
    prices = PriceChangeBody(many=True, required=False)
    quotes = QuoteChangeBody(
        many=True,
        required=False,
        help_text="fixed prices for remedies, in place of the quotes that count now",
    )
    findings = FindingChangeBody(
        many=True, required=False, help_text="levels as if a surveyor had just reported them"
    )
    without_person = serializers.UUIDField(
        required=False, help_text="leave out all findings of this person"
    )

    def validate(self, sent: dict[str, Any]) -> dict[str, Any]:
        if not sent:
            raise serializers.ValidationError("Name at least one change.", code="empty")
        return sent


def changes_of(sent: dict[str, Any]) -> WhatIfChanges:
    """The changes of a validated body."""
    lists = {
        "prices": tuple(PriceChange(**one) for one in sent.get("prices", ())),
        "quotes": tuple(QuoteChange(**one) for one in sent.get("quotes", ())),
        "findings": tuple(FindingChange(**one) for one in sent.get("findings", ())),
    }
    if "own_remedies" in sent:
        lists["own_remedies"] = tuple(sent["own_remedies"])
    return WhatIfChanges(**{**sent, **lists})


class StandingSerializer(serializers.Serializer[Any]):
    place = serializers.IntegerField(
        allow_null=True,
        help_text="1 is best; boats that are level share a place; null if struck off",
    )
    upfront = RangeSerializer(allow_null=True, help_text="as on the board")
    later = RangeSerializer(allow_null=True)
    all_in = RangeSerializer(allow_null=True)
    within_budget = serializers.FloatField(
        allow_null=True, help_text="chance that the cost up front stays within the budget"
    )
    condition = ConditionSerializer()
    missing = serializers.ListField(child=serializers.CharField())
    open_doubts = serializers.IntegerField()
    strike_off_advised = serializers.BooleanField()
    advice = AdviceSerializer(many=True)
    before_buying = ToBeJudgedSerializer(many=True)


class ComparedSerializer(serializers.Serializer[Any]):
    candidate_id = serializers.UUIDField()
    name = serializers.CharField()
    now = StandingSerializer()
    then = StandingSerializer()
    sentence = serializers.CharField(help_text="what would change for her")


class WhatIfSerializer(serializers.Serializer[Any]):
    list = NamedSerializer()
    revision = serializers.IntegerField()
    method = serializers.CharField()
    caution = serializers.CharField()
    candidates = ComparedSerializer(many=True, help_text="in the order after the changes")


class SellerEffectSerializer(serializers.Serializer[Any]):
    """`before`: without the seller's answers. `after`: with them, as on the board."""

    candidate_id = serializers.UUIDField()
    name = serializers.CharField()
    answers = serializers.IntegerField(help_text="how many count")
    before = StandingSerializer()
    after = StandingSerializer()
    falls_out = serializers.BooleanField(
        help_text="strike-off is advised with the answers, and not without them"
    )
    sentence = serializers.CharField()
    caution = serializers.CharField()
    revision = serializers.IntegerField()
