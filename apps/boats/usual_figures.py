"""Default amounts of a brief: the catalogue's, converted to the list's currency.

An amount in the catalogue's money is never taken for one in the list's.
"""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from apps.boats.exchange_rates import brief_warnings, catalogue_currency, rate
from apps.boats.list_models import CandidateList
from apps.catalogue.models import Edition
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.snapshot import Catalogue
from apps.http.warnings import Warned

CENT = Decimal("0.01")
SURVEY, REGISTRATION = "survey", "registration"
# Amounts that the catalogue has by the metre or not at all, for a usual boat, in its money: a lift
# for the survey is about 39 a metre there. Project's own estimate.
SURVEY_MINIMUM, SURVEY_LIFT_OUT = Decimal(500), Decimal(400)
# Half a day of one person and the fuel, in the catalogue's money; project's own estimate.
TRIP_COST = Decimal(100)


def usual_figures(group_id: uuid.UUID, brief: Mapping[str, Any]) -> dict[str, Decimal]:
    """By line of the brief, in its currency. Empty without an exchange rate."""
    if not Edition.objects.exists():
        return {}
    catalogue = catalogue_snapshot(group_id).catalogue
    found = _rate(catalogue.money.basis.currency, brief)
    if found is None:
        return {}
    return {name: (amount * found).quantize(CENT) for name, amount in amounts_of(catalogue).items()}


def amounts_of(catalogue: Catalogue) -> dict[str, Decimal]:
    """By line of the brief, in the catalogue's money."""
    amounts = {
        "yard_hourly_rate": Decimal(str(catalogue.money.yard_rate.likely)),
        "survey_fee_minimum": SURVEY_MINIMUM,
        "survey_lift_out": SURVEY_LIFT_OUT,
    }
    for line, code, per in (
        ("survey_fee_per_m", SURVEY, "m"),
        ("registration", REGISTRATION, "boat"),
    ):
        fee = catalogue.fees.get(code)
        known = fee is not None and fee.per == per
        amounts[line] = Decimal(str(fee.cost.likely)) if fee and known else Decimal(0)
    return amounts


def _rate(currency: str, brief: Mapping[str, Any]) -> Decimal | None:
    if currency == brief["currency"]:
        return Decimal(1)
    found = brief.get("exchange_rates", {}).get(currency)
    return None if found is None else Decimal(str(found))


@dataclass(frozen=True)
class CatalogueMoney:
    """Conversion of the catalogue's money to a list's; rate: None if not given."""

    rate: Decimal | None
    warnings: tuple[Warned, ...] = ()

    @classmethod
    def of(cls, candidate_list: CandidateList) -> "CatalogueMoney":
        """One query."""
        return cls.at(candidate_list, catalogue_currency())

    @classmethod
    def at(cls, candidate_list: CandidateList, currency: str | None) -> "CatalogueMoney":
        """currency: of the catalogue's figures; None without a catalogue."""
        if currency is None:
            return cls(None)
        return cls(rate(candidate_list, currency), tuple(brief_warnings(candidate_list, currency)))

    @property
    def trip_cost(self) -> float | None:
        """Usual cost of going to see a boat, in the list's currency."""
        return None if self.rate is None else round(float(TRIP_COST * self.rate))
