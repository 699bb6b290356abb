"""Services of the group that asks: request a look, withdraw the request, end the access."""

import uuid
from collections.abc import Sequence
from datetime import date, timedelta

from django.db import IntegrityError, transaction
from django.db.models import Q

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.boats.vocabulary import SETTLED
from apps.catalogue.selectors import catalogue_snapshot
from apps.common.digests import digest_of
from apps.common.errors import Conflict, FieldFault, require_no_faults
from apps.common.services import record_create
from apps.groups.rules import Action, require
from apps.groups.selectors import group_locked
from apps.second_opinions.access import day_now, request_locked
from apps.second_opinions.ending import assignment_end, request_again
from apps.second_opinions.models import Assignment, SecondOpinionRequest, Step, YardDay
from apps.second_opinions.steps import step_note
from apps.viewings.findings import missing_checkpoints

State = SecondOpinionRequest.State
# Open requests of one group; volunteers have little time.
MOST_OPEN = 30


@transaction.atomic
def second_opinion_ask(
    *,
    candidate: Candidate,
    by: Person,
    question: str,
    checkpoints: Sequence[str] = (),
    wanted_by: date | None = None,
    yard_day: YardDay | None = None,
    id: uuid.UUID | None = None,
) -> SecondOpinionRequest:
    """Ask the club's advisers, or the person who goes there on a yard day, to look at one boat.

    Raises `Conflict` without a club, for a settled boat, and for a duplicate of an open request;
    `Invalid` at /checkpoints/N and /wanted_by.
    """
    require(by, Action.ASK, candidate.list.group_id)
    group = group_locked(candidate.list.group_id)
    if group.club_id is None:
        raise Conflict("no_club", "The group belongs to no club that could be asked.")
    if candidate.stage in SETTLED:
        raise Conflict("settled", f"She is {candidate.get_stage_display()}: there is no question.")
    asked = SecondOpinionRequest.objects.filter(
        candidate__list__group=group.pk, state__in=SecondOpinionRequest.OPEN
    ).count()
    if asked >= MOST_OPEN:
        raise Conflict("too_many_open", f"The group has {asked} open requests already.")
    codes = sorted(set(checkpoints))
    require_no_faults([*_checkpoint_faults(checkpoints, group.pk), *_day_faults(wanted_by)])
    request = SecondOpinionRequest(
        candidate=candidate,
        club_id=group.club_id,
        yard_day=yard_day,
        asked_by=by,
        question=question,
        checkpoints=codes,
        wanted_by=wanted_by,
        subject=subject_of(question, codes),
    )
    try:
        record_create(request, id)
    except IntegrityError as error:
        raise Conflict(
            "open_already", "The same question about this boat is open already."
        ) from error
    step_note(request, Step.Kind.ASKED, by=by, words=question)
    return request


def subject_of(question: str, checkpoints: Sequence[str]) -> str:
    """A digest of checkpoints and words, which ignores spaces and capitals."""
    return digest_of([" ".join(question.casefold().split()), sorted(checkpoints)])


def _checkpoint_faults(codes: Sequence[str], group_id: uuid.UUID) -> list[FieldFault]:
    missing = missing_checkpoints(codes, catalogue_snapshot(group_id), group_id)
    return [
        FieldFault(f"/checkpoints/{index}", missing[code].code, missing[code].detail)
        for index, code in enumerate(codes)
        if code in missing
    ]


def _day_faults(day: date | None) -> list[FieldFault]:
    # In some time zones it is still yesterday.
    if day is None or day >= day_now() - timedelta(days=1):
        return []
    return [FieldFault("/wanted_by", "in_the_past", f"{day} is over.")]


@transaction.atomic
def second_opinion_withdraw(
    *, request: SecondOpinionRequest, by: Person, expected_version: int
) -> None:
    """Withdraw the request and end any access at once."""
    require(by, Action.ASK, request.candidate.list.group_id)
    if request.state not in SecondOpinionRequest.OPEN:
        raise Conflict("not_open", f"It is {request.state} already.")
    request_withdraw(request, by=by, expected_version=expected_version)


def request_withdraw(
    request: SecondOpinionRequest, *, by: Person | None, expected_version: int | None = None
) -> None:
    request.state, request.offered_to = State.WITHDRAWN, None
    request.save_changes(expected_version=expected_version, fields=["state", "offered_to"])
    assignment = live_assignment_of(request)
    if assignment is not None:
        assignment_end(assignment, Assignment.Ending.WITHDRAWN)
    step_note(request, Step.Kind.WITHDRAWN, by=by, whom=assignment.person if assignment else None)


def requests_withdraw(which: Q, *, by: Person | None) -> None:
    """Withdraw the open ones of these, whoever has them."""
    asked = SecondOpinionRequest.objects.filter(which, state__in=SecondOpinionRequest.OPEN)
    locked = asked.select_for_update(of=("self",), no_key=True).order_by("pk")
    for request in locked.select_related("candidate__list", "yard_day"):
        request_withdraw(request, by=by)


@transaction.atomic
def access_end(*, assignment: Assignment, by: Person, expected_version: int) -> None:
    """End the assignee's access at once. The request waits in the queue again; on a yard day it is
    over."""
    request = assignment.request
    require(by, Action.ASK, request.candidate.list.group_id)
    request_locked(pk=request.pk)
    request.refresh_from_db(fields=["state", "version"])
    request_again(request)
    assignment_end(assignment, Assignment.Ending.ENDED, expected_version=expected_version)
    step_note(request, Step.Kind.ENDED, by=by, whom=assignment.person)


def live_assignment_of(request: SecondOpinionRequest) -> Assignment | None:
    assignments = request.assignments.select_related("person", "viewing__candidate__list")
    return assignments.filter(ended_at=None).first()
