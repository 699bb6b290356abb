"""Commission a survey, change what was agreed, and call it off."""

import uuid
from typing import Any

from django.db import transaction

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.common.errors import Conflict, FieldFault, require_no_faults
from apps.common.services import record_create
from apps.groups.models import Membership
from apps.groups.rules import Action, require
from apps.surveys.models import Survey, SurveyVote
from apps.viewings.event_records import record_event


@transaction.atomic
def survey_commission(
    *, candidate: Candidate, by: Person, id: uuid.UUID | None = None, **agreed: Any
) -> Survey:
    """A survey with what was agreed: fields of `Survey`. Raises `Invalid` with all faults.

    A vote is not needed: the group decides how it decides.
    """
    require(by, Action.ADD, candidate.list.group_id)
    require_no_faults(_faults(candidate, agreed))
    survey = Survey(candidate=candidate, commissioned_by=by, **agreed)
    record_create(survey, id)
    record_event("survey.commissioned", survey, candidate, by)
    return survey


@transaction.atomic
def survey_change(*, survey: Survey, by: Person, expected_version: int, **changes: Any) -> Survey:
    """Change the named fields. Raises `Conflict` when it is called off after its report."""
    require(by, Action.ADD, survey.candidate.list.group_id)
    require_no_faults(_faults(survey.candidate, changes))
    if changes.get("state") == Survey.State.CALLED_OFF and survey.reports.exists():
        raise Conflict("survey_reported", "It has been made: its report is on record.")
    for name, value in changes.items():
        setattr(survey, name, value)
    survey.save_changes(expected_version=expected_version, fields=list(changes))
    record_event("survey.changed", survey, survey.candidate, by)
    return survey


def _faults(candidate: Candidate, agreed: dict[str, Any]) -> list[FieldFault]:
    faults = []
    payer, vote = agreed.get("payer_id"), agreed.get("vote_id")
    members = Membership.objects.filter(group=candidate.list.group_id, ended_at=None)
    if payer is not None and not members.filter(person=payer).exists():
        faults.append(
            FieldFault("/payer", "not_a_member", f"{payer} does not belong to the group.")
        )
    if vote is not None and not SurveyVote.objects.filter(pk=vote, candidate=candidate).exists():
        faults.append(FieldFault("/vote", "unknown", "There is no such vote on this boat."))
    return faults
