"""What purchase does after events of boats."""

from apps.boats.vocabulary import Stage
from apps.common.errors import Conflict
from apps.events.models import Event
from apps.events.subscriptions import subscribe
from apps.purchase.offers.models import ON_THE_TABLE, Offer


@subscribe("candidate.stage_changed")
def stage_changed(event: Event) -> None:
    """While an offer is on the table, the boat stays at it; an accepted one lets her be bought.

    Raises `Conflict`, which undoes the change: nobody should end an offer without saying so.
    """
    to = event.facts["to"]
    if to == Stage.OFFER:
        return
    offer = Offer.objects.filter(candidate=event.thing_id, state__in=ON_THE_TABLE).first()
    if offer is None or (to == Stage.BOUGHT and offer.state == Offer.State.ACCEPTED):
        return
    raise Conflict(
        "offer_on_the_table",
        f"An offer for her is {offer.state}. Record first what became of it.",
    )
