from decimal import Decimal
from typing import Any

from rest_framework import serializers

from apps.accounts.api.key_serializers import ClientField
from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.api.fields import AmountField, StrictBody
from apps.expenses.models import EntryPart, Ledger, LedgerEntry
from apps.expenses.sharing import Sharing
from apps.http.fields import CurrencyField, MoneyField
from apps.http.views import ClientIdMixin

POSITIVE = Decimal("0.00000001")


class BalanceSerializer(serializers.Serializer[Any]):
    """`balance`: what the person is to get; below 0: what they still owe."""

    person = PersonRefSerializer()
    paid = serializers.DecimalField(max_digits=24, decimal_places=2)
    owed = serializers.DecimalField(max_digits=24, decimal_places=2)
    balance = serializers.DecimalField(max_digits=24, decimal_places=2)


class ProposedPaymentSerializer(serializers.Serializer[Any]):
    payer = PersonRefSerializer()
    payee = PersonRefSerializer()
    amount = serializers.DecimalField(max_digits=24, decimal_places=2)


class LedgerSerializer(serializers.ModelSerializer[Ledger]):
    """Amounts are in `currency`. `digest`: of the last entry; it covers all before it."""

    class Meta:
        model = Ledger
        fields = ("id", "version", "group", "currency", "entries_made", "digest", "created_at")


class AccountSerializer(serializers.Serializer[Any]):
    """The ledger, everybody's balance, and the fewest payments that settle all balances."""

    ledger = LedgerSerializer()
    balances = BalanceSerializer(many=True)
    payments = ProposedPaymentSerializer(many=True)


class LedgerBody(StrictBody):
    currency = CurrencyField(help_text="in which the group keeps its common money")


class PartSerializer(serializers.ModelSerializer[EntryPart]):
    person = PersonRefSerializer()

    class Meta:
        model = EntryPart
        fields = ("person", "weight", "amount")


class EntrySerializer(serializers.ModelSerializer[LedgerEntry]):
    """One entry. `amount` is in the ledger's currency and below 0 in a reversal; `parts` add up to
    it. `reversed_by`: the entry that takes this one back."""

    group = serializers.UUIDField(source="ledger.group_id")
    paid = AmountField("paid_amount", "paid_currency")
    currency = serializers.CharField(source="ledger.currency")
    paid_by = PersonRefSerializer()
    added_by = PersonRefSerializer()
    parts = PartSerializer(many=True)
    reversed_by = serializers.SerializerMethodField()
    client = ClientField(help_text="the program that sent it")

    def get_reversed_by(self, entry: LedgerEntry) -> str | None:
        reversal = getattr(entry, "reversed_by", None)
        return None if reversal is None else str(reversal.pk)

    class Meta:
        model = LedgerEntry
        fields = (
            "id",
            "version",
            "group",
            "number",
            "kind",
            "purpose",
            "rule",
            "what",
            "note",
            "candidate",
            "paid_by",
            "paid_on",
            "paid",
            "rate",
            "rate_known_from",
            "rate_on",
            "amount",
            "currency",
            "parts",
            "reverses",
            "reversed_by",
            "added_by",
            "client",
            "digest",
            "created_at",
        )


class ExchangeBody(StrictBody):
    """The rate at which the sum was changed, with its source and day."""

    rate = serializers.DecimalField(
        max_digits=18,
        decimal_places=8,
        min_value=POSITIVE,
        help_text="the value of one unit of the currency paid in the ledger's",
    )
    known_from = serializers.CharField(max_length=120, help_text="for example the bank's statement")
    on = serializers.DateField()


class PaidBody(ClientIdMixin, StrictBody):
    paid_by = serializers.UUIDField(help_text="who is or was in the group")
    paid = MoneyField()
    exchange = ExchangeBody(
        required=False, help_text="only if it was paid in another currency than the ledger's"
    )
    paid_on = serializers.DateField()
    note = serializers.CharField(max_length=500, default="", allow_blank=True)


class WeightBody(StrictBody):
    person = serializers.UUIDField()
    weight = serializers.DecimalField(
        max_digits=12, decimal_places=6, min_value=Decimal(0), help_text="for example days on board"
    )


class ExpenseBody(PaidBody):
    """Somebody paid for several.

    `rule` equal: by those in `people`, or by everybody who buys; shares: by the buyers' shares;
    use: by the `weights`.
    """

    what = serializers.CharField(max_length=200)
    purpose = serializers.ChoiceField(
        LedgerEntry.Purpose.choices, default=LedgerEntry.Purpose.OTHER
    )
    candidate = serializers.UUIDField(
        default=None, allow_null=True, help_text="the boat of the group that it is for"
    )
    rule = serializers.ChoiceField(LedgerEntry.Rule.choices)
    people = serializers.ListField(child=serializers.UUIDField(), max_length=100, required=False)
    weights = WeightBody(many=True, required=False)

    # What each rule reads; the other is refused.
    READ_BY = {"people": LedgerEntry.Rule.EQUAL, "weights": LedgerEntry.Rule.USE}

    def validate_people(self, people: list[Any]) -> list[Any]:
        if len(set(people)) < len(people):
            raise serializers.ValidationError("A person is named twice.", code="named_twice")
        return people

    def validate_weights(self, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        self.validate_people([row["person"] for row in rows])
        return rows

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        for name, rule in self.READ_BY.items():
            if name in attrs and attrs["rule"] != rule:
                text = f"Only the rule {rule.value} reads this."
                raise serializers.ValidationError({name: [text]}, code="not_by_this_rule")
        weights = {row["person"]: row["weight"] for row in attrs.pop("weights", ())}
        attrs["sharing"] = Sharing(
            LedgerEntry.Rule(attrs.pop("rule")), attrs.pop("people", ()), weights
        )
        return attrs


class PaymentBody(PaidBody):
    """Somebody paid somebody in the group, to settle."""

    to = serializers.UUIDField()


class ReversalBody(ClientIdMixin, StrictBody):
    reason = serializers.CharField(max_length=500)
    on = serializers.DateField()
