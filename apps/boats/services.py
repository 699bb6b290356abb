"""Changes to candidates: new boats, particulars, prices and stages."""

import math
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats import particulars
from apps.boats.exchange_rates import currency_faults
from apps.boats.gates.services import require_gates_settled
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate, PriceRecord, StageChange
from apps.boats.revisions import inputs_changed
from apps.boats.vocabulary import Stage
from apps.boats.yards.selectors import usable_yards
from apps.common.errors import Conflict, FieldFault, require_no_faults
from apps.common.services import record_create
from apps.events.services import event_record
from apps.groups.rules import Action, require

# --- Lists -----------------------------------------------------------------------------------


# --- Candidates ------------------------------------------------------------------------------


@dataclass(frozen=True)
class NewBoat:
    """The facts of a boat that is not on the list yet.

    `facts` are fields of `Candidate` in SI; `sources` among them gives how particulars are known.
    """

    facts: Mapping[str, Any]
    asking: tuple[Decimal, str] | None = None
    id: uuid.UUID | None = None


@transaction.atomic
def candidate_create(
    *,
    candidate_list: CandidateList,
    by: Person,
    facts: Mapping[str, Any],
    asking: tuple[Decimal, str] | None = None,
    id: uuid.UUID | None = None,
) -> Candidate:
    """A new boat on the list, with its first price record if the price is known."""
    require(by, Action.ADD, candidate_list.group_id)
    candidate_list = _locked_list(candidate_list)
    candidate, faults = _new_candidate(candidate_list, by, NewBoat(facts, asking))
    require_no_faults(faults)
    record_create(candidate, id)
    if asking is not None:
        _first_price(candidate).save(force_insert=True)
    inputs_changed(candidate_list.pk)
    _record_candidate_event(candidate, by, "candidate.added")
    return candidate


@dataclass(frozen=True)
class Additions:
    """The result of adding many boats: the faults of each in order, and the boats if stored."""

    faults: list[list[FieldFault]]
    candidates: list[Candidate]


@transaction.atomic
def candidates_create(
    *, candidate_list: CandidateList, by: Person, boats: Sequence[NewBoat], dry_run: bool = False
) -> Additions:
    """Many boats at once: all of them, or none if any has a fault, or on a dry run."""
    require(by, Action.ADD, candidate_list.group_id)
    candidate_list = _locked_list(candidate_list)
    made = [_new_candidate(candidate_list, by, boat) for boat in boats]
    faults = [own + taken for (_, own), taken in zip(made, _ids_taken(boats), strict=True)]
    if dry_run or any(faults):
        return Additions(faults, [])
    candidates = [candidate for candidate, _ in made]
    try:
        with transaction.atomic():
            Candidate.objects.bulk_create(candidates)
    except IntegrityError as error:
        raise Conflict("id_taken", "One of these ids is in use already.") from error
    priced = [candidate for candidate in candidates if candidate.asking_amount is not None]
    PriceRecord.objects.bulk_create(_first_price(candidate) for candidate in priced)
    inputs_changed(candidate_list.pk)
    for candidate in candidates:
        _record_candidate_event(candidate, by, "candidate.added")
    return Additions(faults, candidates)


def _new_candidate(
    candidate_list: CandidateList, by: Person, boat: NewBoat
) -> tuple[Candidate, list[FieldFault]]:
    """The boat, not stored yet, and its faults."""
    candidate = Candidate(list=candidate_list, added_by=by)
    if boat.id is not None:
        candidate.pk = boat.id
    faults = _take(candidate, boat.facts)
    if boat.asking is not None:
        faults += currency_faults(candidate_list, boat.asking[1], "/asking/currency")
        candidate.asking_amount, candidate.asking_currency = boat.asking
    return candidate, faults


def _ids_taken(boats: Sequence[NewBoat]) -> list[list[FieldFault]]:
    """For each boat, a fault if its id is already taken, in the database or by an earlier one."""
    brought = [boat.id for boat in boats if boat.id is not None]
    taken = set(Candidate.objects.filter(pk__in=brought).values_list("pk", flat=True))
    faults: list[list[FieldFault]] = []
    for boat in boats:
        clash = boat.id in taken
        faults.append(
            [FieldFault("/id", "id_taken", "This id is in use already.")] if clash else []
        )
        if boat.id is not None:
            taken.add(boat.id)
    return faults


def _first_price(candidate: Candidate) -> PriceRecord:
    return PriceRecord(
        candidate=candidate,
        amount=candidate.asking_amount,
        currency=candidate.asking_currency,
        asked_on=timezone.now().date(),
        by_id=candidate.added_by_id,
    )


@transaction.atomic
def candidate_change(
    *, candidate: Candidate, by: Person, facts: Mapping[str, Any], expected_version: int
) -> Candidate:
    """Change what is known of a boat. A changed figure is a claim unless its source is given."""
    require(by, Action.ADD, candidate.list.group_id)
    require_no_faults(_take(candidate, facts))
    candidate.save_changes(expected_version=expected_version, fields=[*facts, "sources"])
    inputs_changed(candidate.list_id)
    _record_candidate_event(candidate, by, "candidate.changed", {"fields": sorted(facts)})
    return candidate


def _take(candidate: Candidate, facts: Mapping[str, Any]) -> list[FieldFault]:
    """Set the facts on the (unsaved) candidate; returns its faults."""
    facts = dict(facts)
    given = facts.pop("sources", {})
    sources = dict(candidate.sources)
    for field, value in facts.items():
        if not _is_same(value, getattr(candidate, field)):
            sources.pop(field, None)
        setattr(candidate, field, value)
    faults = [
        FieldFault(f"/sources/{field}", "nothing_known", "It has no value yet.")
        for field, source in given.items()
        if source is not None and not particulars.is_known(getattr(candidate, field))
    ]
    sources |= given
    candidate.sources = {field: source for field, source in sources.items() if source is not None}
    if facts.get("at_yard_id") is not None:
        faults += _yard_faults(candidate)
    return faults + _place_faults(candidate) + _nonsense_faults(candidate, facts)


def _is_same(value: Any, known: Any) -> bool:
    """A figure shown in feet and sent back is slightly rounded, but is the same."""
    if isinstance(value, float) and known is not None:
        return math.isclose(value, known, rel_tol=1e-4)
    return bool(value == known)


def _place_faults(candidate: Candidate) -> list[FieldFault]:
    if (candidate.latitude is None) == (candidate.longitude is None):
        return []
    missing = "latitude" if candidate.latitude is None else "longitude"
    return [FieldFault(f"/place/{missing}", "half_a_place", "Latitude and longitude go together.")]


def _yard_faults(candidate: Candidate) -> list[FieldFault]:
    yards = usable_yards(candidate.list.group)
    if candidate.at_yard_id is None or yards.filter(pk=candidate.at_yard_id).exists():
        return []
    detail = "Neither the group nor its club has such a yard."
    return [FieldFault("/place/yard_id", "unknown_yard", detail)]


def _nonsense_faults(candidate: Candidate, sent: Mapping[str, Any]) -> list[FieldFault]:
    """Each contradiction, at the first of its fields that was sent."""
    return [
        FieldFault(
            f"/{next((field for field in found.fields if field in sent), found.fields[0])}",
            found.code,
            found.detail,
        )
        for found in particulars.nonsense_in(candidate)
    ]


@transaction.atomic
def price_add(
    *,
    candidate: Candidate,
    by: Person,
    amount: Decimal,
    currency: str,
    asked_on: date | None = None,
    note: str = "",
    advert_link: str = "",
    advert_text: str = "",
) -> PriceRecord:
    """Record an asking price of today or another day; the latest day's is the current one.

    advert_link, advert_text: the advert that named it, as it was on that day.
    """
    require(by, Action.ADD, candidate.list.group_id)
    candidate = candidate_locked(candidate)
    today = timezone.now().date()
    faults = currency_faults(candidate.list, currency, "/asking/currency")
    # In time zones ahead of UTC it may be tomorrow already.
    if asked_on is not None and asked_on > today + timedelta(days=1):
        faults.append(FieldFault("/asked_on", "in_the_future", f"{asked_on} is in the future."))
    require_no_faults(faults)
    record = candidate.prices.create(
        amount=amount,
        currency=currency,
        asked_on=asked_on or today,
        note=note,
        advert_link=advert_link,
        advert_text=advert_text,
        by=by,
    )
    newest = candidate.prices.order_by("-asked_on", "-pk")[0]
    if newest.pk == record.pk:
        candidate.asking_amount, candidate.asking_currency = amount, currency
        candidate.save_changes(fields=["asking_amount", "asking_currency"])
        inputs_changed(candidate.list_id)
    _record_candidate_event(candidate, by, "candidate.price_noted", {"price": str(record.pk)})
    return record


@transaction.atomic
def stage_change(*, candidate: Candidate, by: Person, stage: str, reason: str = "") -> StageChange:
    """Move a candidate to any other stage, on record. Striking off needs a reason, and so does
    buying while something needed is not settled (`gates`)."""
    membership = require(by, Action.ADD, candidate.list.group_id)
    if stage == Stage.STRUCK_OFF and not reason:
        require_no_faults(
            [FieldFault("/reason", "required", "Say why she is struck off: others will ask.")]
        )
    candidate = candidate_locked(candidate)
    if candidate.stage == stage:
        raise Conflict("already_there", f"She is at this stage already: {stage}.")
    if stage == Stage.BOUGHT:
        require_gates_settled(candidate, membership, reason)
    return stage_move(candidate=candidate, by=by, stage=stage, reason=reason)


def stage_move(*, candidate: Candidate, by: Person, stage: str, reason: str = "") -> StageChange:
    """Move a locked candidate on record, as a consequence of what its caller checked."""
    change = StageChange.objects.create(
        candidate=candidate, from_stage=candidate.stage, to_stage=stage, reason=reason, by=by
    )
    candidate.stage, candidate.stage_reason = stage, reason
    candidate.save_changes(fields=["stage", "stage_reason"])
    inputs_changed(candidate.list_id)
    _record_candidate_event(
        candidate, by, "candidate.stage_changed", {"from": change.from_stage, "to": stage}
    )
    return change


def candidate_locked(candidate: Candidate) -> Candidate:
    """The candidate and its list as they are now, locked until the transaction ends."""
    candidates = Candidate.objects.select_related("list")
    return candidates.select_for_update(of=("self", "list"), no_key=True).get(pk=candidate.pk)


def _locked_list(candidate_list: CandidateList) -> CandidateList:
    return CandidateList.objects.select_for_update(no_key=True).get(pk=candidate_list.pk)


# --- Events ----------------------------------------------------------------------------------


def _record_candidate_event(
    candidate: Candidate, by: Person, kind: str, facts: Mapping[str, Any] | None = None
) -> None:
    event_record(
        group_id=candidate.list.group_id,
        kind=kind,
        thing="candidate",
        thing_id=candidate.pk,
        thing_version=candidate.version,
        by_id=by.pk,
        facts={"list": str(candidate.list_id), **(facts or {})},
    )
