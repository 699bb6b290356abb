"""Make offers and record what became of them. A failed offer brings the boat back."""

import uuid
from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.exchange_rates import currency_faults
from apps.boats.models import Candidate
from apps.boats.revisions import inputs_changed
from apps.boats.services import candidate_locked, stage_move
from apps.boats.vocabulary import SETTLED, Stage
from apps.common.errors import Conflict, FieldFault, require_no_faults
from apps.common.services import record_create
from apps.events.services import events_at_the_end
from apps.groups.programs import client_note
from apps.groups.rules import Action, require
from apps.purchase.offers.models import FAILED, ON_THE_TABLE, ConditionUntil, Offer
from apps.viewings.event_records import record_event
from apps.viewings.services import future_faults

State = Offer.State
# What may become of an offer by an answer; `countered` follows from the next price, `lapsed` from
# the day.
ANSWERS: dict[str, tuple[str, ...]] = {
    State.MADE: (State.ACCEPTED, State.REFUSED, State.WITHDRAWN),
    State.ACCEPTED: (State.REFUSED, State.WITHDRAWN),
}


@transaction.atomic
@events_at_the_end()
def offer_make(
    *,
    candidate: Candidate,
    by: Person,
    amount: Decimal,
    currency: str,
    offered_on: date,
    side: str = Offer.Side.BUYERS,
    answer_by: date | None = None,
    conditions: Sequence[ConditionUntil] = (),
    note: str = "",
    id: uuid.UUID | None = None,
) -> Offer:
    """Record a price that one side named; it answers the one on the table, which is countered.

    The boat moves to the stage `offer`. Raises `Invalid` with pointers to all faults, `Conflict`
    for a boat that is struck off or bought.
    """
    group_id = candidate.list.group_id
    require(by, Action.ADD, group_id)
    candidate = candidate_locked(candidate)
    require_no_faults(
        [
            *currency_faults(candidate.list, currency, "/price/currency"),
            *future_faults("/offered_on", offered_on),
            *_day_faults(offered_on, answer_by, conditions),
        ]
    )
    if candidate.stage in SETTLED:
        text = "She is struck off or bought: move her to another stage first."
        raise Conflict("not_for_sale_to_you", text)
    before = Offer.objects.filter(candidate=candidate, state__in=ON_THE_TABLE).first()
    stage_before = candidate.stage
    if before is not None:
        stage_before = before.stage_before
        _settle(before, State.COUNTERED, max(offered_on, before.offered_on), "", by)
    elif candidate.stage == Stage.OFFER:
        stage_before = Stage.SHORTLISTED
    offer = Offer(
        candidate=candidate,
        side=side,
        amount=amount,
        currency=currency,
        offered_on=offered_on,
        answer_by=answer_by,
        conditions=list(conditions),
        note=note,
        stage_before=stage_before,
        added_by=by,
    )
    client_note(record=offer, by=by, group_id=group_id)
    record_create(offer, id)
    if candidate.stage != Stage.OFFER:
        stage_move(candidate=candidate, by=by, stage=Stage.OFFER)
    inputs_changed(candidate.list_id)
    record_event("offer.made", offer, candidate, by, side=offer.side)
    return offer


def _day_faults(
    offered_on: date, answer_by: date | None, conditions: Sequence[ConditionUntil]
) -> list[FieldFault]:
    faults = []
    if answer_by is not None and answer_by < offered_on:
        text = "It would lapse before it was made."
        faults.append(FieldFault("/answer_by", "before_its_date", text))
    seen: set[str] = set()
    for n, one in enumerate(conditions):
        if one["code"] in seen:
            text = "This condition is there already."
            faults.append(FieldFault(f"/conditions/{n}/code", "named_twice", text))
        seen.add(one["code"])
        if one["until"] is not None and one["until"] < offered_on.isoformat():
            text = "It would have to be met before the offer was made."
            faults.append(FieldFault(f"/conditions/{n}/until", "before_its_date", text))
    return faults


@transaction.atomic
@events_at_the_end()
def offer_answer(
    *,
    offer: Offer,
    by: Person,
    state: str,
    expected_version: int,
    settled_on: date | None = None,
    reason: str = "",
) -> Offer:
    """Record that it was accepted, refused or withdrawn. Refused or withdrawn, the boat goes back.

    Raises `Conflict` if the offer is no longer on the table, or was accepted already.
    """
    require(by, Action.ADD, offer.candidate.list.group_id)
    candidate = candidate_locked(offer.candidate)
    day = settled_on or timezone.localdate()
    faults = future_faults("/settled_on", day)
    if day < offer.offered_on:
        text = "That is before it was made."
        faults.append(FieldFault("/settled_on", "before_its_date", text))
    require_no_faults(faults)
    if state not in ANSWERS.get(offer.state, ()):
        raise Conflict("answered_already", f"It is {offer.state} already.")
    _settle(offer, state, day, reason, by, expected_version)
    _bring_back(offer, candidate, by)
    return offer


def offers_lapse(today: date | None = None) -> int:
    """End the offers that were not answered in time; how many. May run twice without harm."""
    today = today or timezone.localdate()
    overdue = Offer.objects.filter(state=State.MADE, answer_by__lt=today).order_by("pk")
    found = list(overdue.values_list("pk", flat=True))
    for pk in found:
        offer_lapse(pk, today)
    return len(found)


@transaction.atomic
@events_at_the_end()
def offer_lapse(offer_id: uuid.UUID, today: date) -> None:
    """End one offer, if it is still waiting for its answer."""
    offer = Offer.objects.select_related("candidate__list", "added_by").get(pk=offer_id)
    candidate = candidate_locked(offer.candidate)
    offer.refresh_from_db()
    if offer.state != State.MADE or offer.answer_by is None or offer.answer_by >= today:
        return
    _settle(offer, State.LAPSED, offer.answer_by, "", None)
    _bring_back(offer, candidate, offer.added_by)


def _settle(
    offer: Offer,
    state: str,
    day: date,
    reason: str,
    by: Person | None,
    expected_version: int | None = None,
) -> None:
    offer.state, offer.settled_on, offer.reason = state, day, reason
    offer.save_changes(expected_version=expected_version, fields=["state", "settled_on", "reason"])
    inputs_changed(offer.candidate.list_id)
    record_event(f"offer.{state}", offer, offer.candidate, by, side=offer.side)


def _bring_back(offer: Offer, candidate: Candidate, by: Person) -> None:
    """After a failed offer, unless somebody moved the boat on since."""
    if offer.state in FAILED and candidate.stage == Stage.OFFER:
        why = f"The offer of {offer.amount} {offer.currency} was {offer.state}."
        if offer.state == State.LAPSED:
            why = f"The offer of {offer.amount} {offer.currency} lapsed on {offer.settled_on}."
        stage_move(
            candidate=candidate,
            by=by,
            stage=offer.stage_before,
            reason=f"{why} {offer.reason}".strip()[:1000],
        )
