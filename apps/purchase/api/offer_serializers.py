from typing import Any

from rest_framework import serializers

from apps.accounts.api.key_serializers import ClientField
from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.api.fields import AmountField, StrictBody
from apps.http.fields import MoneyField
from apps.http.views import ClientIdMixin
from apps.purchase.offers.models import Offer, OfferCondition
from apps.purchase.offers.services import ANSWERS

UNTIL = "the day by which it is to be met"


class OfferConditionSerializer(serializers.Serializer[Any]):
    code = serializers.ChoiceField(OfferCondition.choices)
    until = serializers.DateField(allow_null=True, help_text=UNTIL)


class OfferSerializer(serializers.ModelSerializer[Offer]):
    price = AmountField("amount", "currency")
    conditions = OfferConditionSerializer(many=True)
    on_the_table = serializers.BooleanField(help_text="the price that results reckon with")
    added_by = PersonRefSerializer()
    client = ClientField(help_text="the program that sent it")

    class Meta:
        model = Offer
        fields = (
            "id",
            "version",
            "candidate",
            "side",
            "price",
            "offered_on",
            "answer_by",
            "conditions",
            "note",
            "state",
            "settled_on",
            "reason",
            "on_the_table",
            "added_by",
            "client",
            "created_at",
        )


class OfferConditionBody(StrictBody):
    code = serializers.ChoiceField(OfferCondition.choices)
    until = serializers.DateField(default=None, allow_null=True, help_text=UNTIL)

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        until = facts.get("until")
        return {"code": facts["code"], "until": until and until.isoformat()}


class PriceOfferBody(ClientIdMixin, StrictBody):
    """A price that one side named for the boat."""

    side = serializers.ChoiceField(
        Offer.Side.choices, default=Offer.Side.BUYERS, help_text="seller: the seller's counter"
    )
    price = MoneyField(help_text="in the list's currency or one that the brief has a rate for")
    offered_on = serializers.DateField()
    answer_by = serializers.DateField(
        default=None, allow_null=True, help_text="it lapses after this day if nobody answers"
    )
    conditions = OfferConditionBody(
        many=True, default=list, help_text="what it is subject to; a survey always should be there"
    )
    note = serializers.CharField(max_length=1000, default="", allow_blank=True)


class OfferAnswerBody(StrictBody):
    """What became of an offer."""

    state = serializers.ChoiceField(
        sorted({state for states in ANSWERS.values() for state in states})
    )
    settled_on = serializers.DateField(
        default=None, allow_null=True, help_text="the day of the answer; today if left out"
    )
    reason = serializers.CharField(max_length=1000, default="", allow_blank=True)
