from rest_framework import serializers

from apps.accounts.api.key_serializers import ClientField
from apps.accounts.api.serializers import PersonRefSerializer
from apps.boats.api.fields import AmountField, StrictBody
from apps.http.fields import MoneyField
from apps.http.pages import PageQuery
from apps.http.views import ClientIdMixin
from apps.purchase.models import Quote


class LiveQuery(PageQuery):
    live = serializers.BooleanField(default=False, help_text="leave out withdrawn ones")


class QuoteSerializer(serializers.ModelSerializer[Quote]):
    price = AmountField("amount", "currency")
    low = serializers.DecimalField(
        max_digits=14,
        decimal_places=2,
        allow_null=True,
        help_text="of a surveyor's estimate; else null",
    )
    high = serializers.DecimalField(
        max_digits=14,
        decimal_places=2,
        allow_null=True,
        help_text="of a surveyor's estimate; else null",
    )
    added_by = PersonRefSerializer()
    client = ClientField(help_text="the program that sent it")

    class Meta:
        model = Quote
        fields = (
            "id",
            "version",
            "candidate",
            "remedy",
            "price",
            "low",
            "high",
            "firmness",
            "includes_enabling",
            "from_whom",
            "scope",
            "dated_on",
            "valid_until",
            "added_by",
            "client",
            "created_at",
            "withdrawn_at",
        )


class QuoteBody(ClientIdMixin, StrictBody):
    """A price from a yard or a trade for one remedy."""

    remedy = serializers.CharField(max_length=60, help_text="code of a remedy in the catalogue")
    price = MoneyField(help_text="in the list's currency or one that the brief has a rate for")
    firmness = serializers.ChoiceField(Quote.Firmness.choices)
    includes_enabling = serializers.BooleanField(
        default=False, help_text="the price includes lift-out, unstepping the mast and the like"
    )
    from_whom = serializers.CharField(
        max_length=120, help_text="the group's name for the yard or trade"
    )
    scope = serializers.CharField(
        max_length=500, default="", allow_blank=True, help_text="what the price covers"
    )
    dated_on = serializers.DateField()
    valid_until = serializers.DateField(default=None, allow_null=True)
