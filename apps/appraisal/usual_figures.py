"""What a new list's brief starts from where the group's catalogue has its own figures for it."""

import uuid
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from apps.catalogue.content import Snapshot
from apps.catalogue.own.layers import layers_of_group
from apps.catalogue.selectors import catalogue_snapshot

CENT = Decimal("0.01")
SURVEY = "survey"


def usual_figures(*, group_id: uuid.UUID, brief: Mapping[str, Any], **_: Any) -> dict[str, Decimal]:
    """The yard's hour and the survey's fee as the club or the group says them, in list currency.

    Receiver of `boats.signals.brief_wanted`. Without an exchange rate the usual values stay.
    """
    if not layers_of_group(group_id):
        return {}
    snapshot = catalogue_snapshot(group_id)
    rate = _rate(snapshot.catalogue.money.basis.currency, brief)
    if rate is None:
        return {}
    return {name: (amount * rate).quantize(CENT) for name, amount in _said(snapshot).items()}


def _rate(currency: str, brief: Mapping[str, Any]) -> Decimal | None:
    if currency == brief["currency"]:
        return Decimal(1)
    rate = brief.get("exchange_rates", {}).get(currency)
    return None if rate is None else Decimal(str(rate))


def _said(snapshot: Snapshot) -> dict[str, Decimal]:
    """What somebody says otherwise than the base, in the catalogue's money."""
    catalogue, found = snapshot.catalogue, {}
    if ("rates", "yard-hour") in snapshot.own:
        found["yard_hourly_rate"] = catalogue.money.yard_rate.likely
    fee = catalogue.fees.get(SURVEY)
    if ("fees", SURVEY) in snapshot.own and fee is not None and fee.per == "m":
        found["survey_fee_per_m"] = fee.cost.likely
    return {name: Decimal(str(amount)) for name, amount in found.items()}
