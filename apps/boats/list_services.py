"""Create lists and change their briefs."""

import uuid
from collections.abc import Mapping
from typing import Any

from django.db import transaction

from apps.accounts.models import Person
from apps.boats.exchange_rates import currency_faults
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.boats.revisions import inputs_changed
from apps.boats.usual_figures import usual_figures
from apps.common.errors import FieldFault, require_no_faults
from apps.common.services import record_create
from apps.events.services import event_record
from apps.groups.rules import Action, require

# Fields of a list outside its brief. All other fields are settings of the brief.
OF_THE_LIST = {
    *("id", "version", "created_at", "updated_at"),
    *("group", "name", "opinions_open", "inputs_revision", "inputs_changed_at"),
}


BRIEF = tuple(
    field.name for field in CandidateList._meta.concrete_fields if field.name not in OF_THE_LIST
)


@transaction.atomic
def list_create(
    *,
    group_id: uuid.UUID,
    by: Person,
    name: str,
    brief: Mapping[str, Any],
    id: uuid.UUID | None = None,
) -> CandidateList:
    """A new list with its brief; missing lines take their usual values.

    The usual values are those of the group's catalogue, in the list's currency; without a rate for
    the catalogue's currency they stay null until there is one.
    """
    require(by, Action.MANAGE, group_id)
    usual = usual_figures(group_id, brief)
    candidate_list = CandidateList(group_id=group_id, name=name, **{**usual, **brief})
    require_no_faults(_brief_faults(candidate_list))
    record_create(candidate_list, id)
    _record_list_event(candidate_list, by, "list.created")
    return candidate_list


@transaction.atomic
def list_change(
    *,
    candidate_list: CandidateList,
    by: Person,
    expected_version: int,
    name: str | None = None,
    brief: Mapping[str, Any] | None = None,
    opinions_open: bool | None = None,
) -> CandidateList:
    """Change the name or lines of the brief, or open or close opinions to everybody.

    The currency cannot change: every amount on the list, and every valuation, is in it.
    """
    require(by, Action.MANAGE, candidate_list.group_id)
    brief = dict(brief or {})
    faults = _currency_stays(candidate_list, brief)
    for field, value in brief.items():
        setattr(candidate_list, field, value)
    brief |= _filled_in(candidate_list, brief)
    require_no_faults(faults + _brief_faults(candidate_list))
    if name is not None:
        candidate_list.name = name
    was_open = candidate_list.opinions_open
    if opinions_open is not None:
        candidate_list.opinions_open = opinions_open
    candidate_list.save_changes(
        expected_version=expected_version, fields=["name", "opinions_open", *brief]
    )
    # After the save has locked the list, so that no price is added in between.
    require_no_faults(_rates_in_use(candidate_list))
    if brief:
        inputs_changed(candidate_list.pk)
    if name is not None or brief:
        _record_list_event(candidate_list, by, "list.changed", {"brief": sorted(brief)})
    if candidate_list.opinions_open != was_open:
        kind = "list.opinions_opened" if candidate_list.opinions_open else "list.opinions_closed"
        _record_list_event(candidate_list, by, kind)
    return candidate_list


def _filled_in(candidate_list: CandidateList, changed: Mapping[str, Any]) -> dict[str, Any]:
    """Amounts that were missing for lack of an exchange rate, if there is one now."""
    if "exchange_rates" not in changed:
        return {}
    known = {"currency": candidate_list.currency, "exchange_rates": candidate_list.exchange_rates}
    usual = usual_figures(candidate_list.group_id, known)
    filled = {n: value for n, value in usual.items() if getattr(candidate_list, n) is None}
    for field, value in filled.items():
        setattr(candidate_list, field, value)
    return filled


def _currency_stays(candidate_list: CandidateList, brief: dict[str, Any]) -> list[FieldFault]:
    if brief.pop("currency", candidate_list.currency) == candidate_list.currency:
        return []
    return [
        FieldFault(
            "/brief/currency",
            "currency_stays",
            f"The amounts on this list are in {candidate_list.currency}; create another list.",
        )
    ]


def _brief_faults(candidate_list: CandidateList) -> list[FieldFault]:
    if candidate_list.currency in candidate_list.exchange_rates:
        return [
            FieldFault(
                f"/brief/exchange_rates/{candidate_list.currency}",
                "own_currency",
                "The list's own currency needs no rate.",
            )
        ]
    return []


def _rates_in_use(candidate_list: CandidateList) -> list[FieldFault]:
    """A rate that a price on the list needs cannot be removed."""
    asked = Candidate.objects.filter(list=candidate_list).exclude(asking_currency="")
    currencies = asked.order_by("asking_currency").values_list("asking_currency", flat=True)
    return [
        fault
        for currency in currencies.distinct()
        for fault in currency_faults(candidate_list, currency, "/brief/exchange_rates")
    ]


def _record_list_event(
    candidate_list: CandidateList, by: Person, kind: str, facts: Mapping[str, Any] | None = None
) -> None:
    event_record(
        group_id=candidate_list.group_id,
        kind=kind,
        thing="list",
        thing_id=candidate_list.pk,
        thing_version=candidate_list.version,
        by_id=by.pk,
        facts=facts,
    )
