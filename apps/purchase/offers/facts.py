"""The offers on the table of a whole list as plain facts, for no particular reader."""

import uuid
from dataclasses import dataclass

from apps.purchase.offers.models import ON_THE_TABLE, Offer


@dataclass(frozen=True)
class LiveOffer:
    """The price on the table for one boat, whoever named it, in its own currency."""

    id: uuid.UUID
    candidate_id: uuid.UUID
    amount: float
    currency: str
    state: str


def list_offers(list_id: uuid.UUID) -> dict[uuid.UUID, LiveOffer]:
    """By candidate. One query."""
    offers = Offer.objects.filter(candidate__list_id=list_id, state__in=ON_THE_TABLE)
    return {
        offer.candidate_id: LiveOffer(
            offer.id, offer.candidate_id, float(offer.amount), offer.currency, offer.state
        )
        for offer in offers.order_by("pk")
    }
