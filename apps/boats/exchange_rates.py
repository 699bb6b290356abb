"""Convert money to a list's currency, at the rates of its brief."""

from decimal import Decimal

from apps.boats.list_models import CandidateList
from apps.catalogue.models import Edition
from apps.common.errors import FieldFault
from apps.http.warnings import Warned, warned


def rate(candidate_list: CandidateList, currency: str) -> Decimal | None:
    """The value of one unit of `currency` in the list's; None if the brief has no rate for it."""
    if currency == candidate_list.currency:
        return Decimal(1)
    known = candidate_list.exchange_rates.get(currency)
    return None if known is None else Decimal(known)


def converted(
    candidate_list: CandidateList, amount: Decimal, currency: str, into: str
) -> Decimal | None:
    """The amount in another currency; None if the brief lacks a rate for one of them."""
    of_one, of_other = rate(candidate_list, currency), rate(candidate_list, into)
    return None if of_one is None or of_other is None else amount * of_one / of_other


def catalogue_currency() -> str | None:
    """The currency of the catalogue's figures; None without a catalogue. One query."""
    return Edition.objects.order_by("-number").values_list("currency", flat=True).first()


def brief_warnings(candidate_list: CandidateList, catalogue: str | None) -> list[Warned]:
    """What the brief lacks to price any boat. catalogue: the currency of its figures."""
    if catalogue is None or rate(candidate_list, catalogue) is not None:
        return []
    own = candidate_list.currency
    return [
        warned(
            "no_exchange_rate",
            f"No boat on this list can be priced: the catalogue's figures are in {catalogue}, and "
            f"the brief has no exchange rate for it. Give the value of one {catalogue} in {own}.",
            f"/brief/exchange_rates/{catalogue}",
        )
    ]


def currency_faults(candidate_list: CandidateList, currency: str, pointer: str) -> list[FieldFault]:
    """A fault if the list cannot accept money in this currency."""
    if rate(candidate_list, currency) is not None:
        return []
    return [
        FieldFault(
            pointer,
            "no_exchange_rate",
            f"The brief is in {candidate_list.currency} and has no exchange rate for {currency}.",
        )
    ]
