from typing import Any

from rest_framework import serializers

from apps.accounts.api.key_serializers import ClientField
from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.api.fields import AmountField, StrictBody
from apps.http.fields import MoneyField
from apps.http.views import ClientIdMixin
from apps.purchase.models import Bill


class BillSerializer(serializers.ModelSerializer[Bill]):
    paid = AmountField("amount", "currency")
    added_by = PersonRefSerializer()
    client = ClientField(help_text="the program that sent it")

    class Meta:
        model = Bill
        fields = (
            "id",
            "version",
            "candidate",
            "remedy",
            "paid",
            "done_by",
            "includes_enabling",
            "document",
            "dated_on",
            "note",
            "added_by",
            "client",
            "created_at",
            "withdrawn_at",
        )


class BillFields(StrictBody):
    paid = MoneyField(
        help_text="the amount paid, in the list's currency or one that the brief has a rate for"
    )
    done_by = serializers.ChoiceField(
        Bill.DoneBy.choices, help_text="own: the group's work; the amount excludes its own hours"
    )
    includes_enabling = serializers.BooleanField(
        default=False, help_text="the amount includes lift-out, unstepping the mast and the like"
    )
    document = serializers.CharField(max_length=300, help_text="the invoice or receipt")
    dated_on = serializers.DateField()
    note = serializers.CharField(max_length=500, default="", allow_blank=True)

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        if paid := facts.pop("paid", None):
            facts |= {"amount": paid.amount, "currency": paid.currency}
        return facts


class BillBody(ClientIdMixin, BillFields):
    """The final cost of one remedy."""

    remedy = serializers.CharField(max_length=60, help_text="code of a remedy in the catalogue")


class BillChangeBody(BillFields):
    """Only the fields sent change."""

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        if not facts:
            raise serializers.ValidationError("Send at least one field.", code="empty")
        return super().validate(facts)
