"""Services of people outside the group: take a request, decline, answer, hand back.

One assignee at a time: one conditional update changes the request's state, and a constraint allows
one live assignment for each.
"""

import uuid

from django.db import transaction
from django.db.models import F, Q
from django.shortcuts import get_object_or_404
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.vocabulary import SETTLED
from apps.common.errors import Conflict, Invalid
from apps.groups.models import ClubMembership
from apps.groups.rules import ClubAction, require_in_club
from apps.second_opinions.access import (
    assignment_opened,
    live_assignments,
    request_locked,
    requests_open_to,
)
from apps.second_opinions.ending import assignment_end, request_again
from apps.second_opinions.models import Assignment, SecondOpinionRequest, Step, YardDay
from apps.second_opinions.settings import club_opinion_settings
from apps.second_opinions.steps import step_note
from apps.viewings.models import Submission

State = SecondOpinionRequest.State
Kind = Step.Kind


@transaction.atomic
def second_opinion_take(*, request_id: uuid.UUID, by: Person) -> Assignment:
    """Take a request: from then on the person sees that boat.

    Raises `Conflict` if somebody else has it, it is meant for another, the person had that boat
    before or has enough, or there is no room on the yard day.
    """
    request = _asked_of(by, request_id)
    if request.candidate.stage in SETTLED:
        raise Conflict("settled", "Nobody needs to look at this boat any more.")
    if request.yard_day is None:
        _require_adviser_may(request, by)
    else:
        _require_room(request.yard_day)
    claimed = SecondOpinionRequest.objects.filter(
        Q(offered_to=None) | Q(offered_to=by), pk=request.pk, state=State.WAITING
    ).update(state=State.TAKEN, offered_to=None, version=F("version") + 1)
    if not claimed:
        raise Conflict("taken", "Somebody else has it, or was asked for it.")
    request.refresh_from_db(fields=["state", "offered_to", "version"])
    assignment = Assignment(request=request, person=by)
    assignment.save(force_insert=True)
    step_note(request, Kind.TAKEN, by=by)
    return assignment_opened(by, assignment.pk)


def _asked_of(by: Person, request_id: uuid.UUID) -> SecondOpinionRequest:
    """An open request that the person may know of, with what its steps need."""
    request = get_object_or_404(
        requests_open_to(by).select_related(
            "candidate__list", "yard_day__viewing__candidate__list", "offered_to"
        ),
        pk=request_id,
    )
    if request.yard_day is None:
        require_in_club(by, ClubAction.ADVISE, request.open_within)
    return request


def _require_adviser_may(request: SecondOpinionRequest, by: Person) -> None:
    """Check the adviser's limits. Locks the membership, so simultaneous takes see each other."""
    ClubMembership.objects.select_for_update(no_key=True).filter(
        club=request.club_id, person=by, ended_at=None
    ).first()
    if request.offered_to_id != by.pk and Step.objects.filter(had_by(by, request)).exists():
        raise Conflict("had_before", "You had this boat before; somebody else is to look.")
    has = live_assignments(by).filter(request__club=request.club_id, request__yard_day=None).count()
    if has >= club_opinion_settings(request.open_within).most_taken:
        raise Conflict("has_enough", f"You have {has} already: answer or hand back one first.")


def had_by(person: Person, request: SecondOpinionRequest) -> Q:
    """The steps by which the person took or declined a request for the same boat."""
    return Q(
        by=person,
        kind__in=(Kind.TAKEN, Kind.DECLINED),
        request__candidate=request.candidate_id,
        request__yard_day=None,
    )


def _require_room(day: YardDay) -> None:
    """Check the yard day's room. Locks the day, so simultaneous takes see each other."""
    day = YardDay.objects.select_for_update(no_key=True).get(pk=day.pk)
    if room_left(day) < 1:
        raise Conflict("no_room", "There is no room for another boat on this day.")


def room_left(day: YardDay) -> int:
    taken = day.requests.filter(state__in=(State.TAKEN, State.ANSWERED)).count()
    return day.room - taken


@transaction.atomic
def second_opinion_decline(*, request_id: uuid.UUID, by: Person, reason: str = "") -> None:
    """Decline: the person is not asked about this boat again. Others are, except on a yard day.

    Raises `Conflict` if somebody has it.
    """
    request = _asked_of(by, request_id)
    request_locked(pk=request.pk)
    request.refresh_from_db(fields=["state", "offered_to", "version"])
    if request.state != State.WAITING:
        raise Conflict("taken", "Somebody has it already.")
    if request.steps.filter(by=by, kind=Kind.DECLINED).exists():
        return  # declined before
    fields = []
    if request.yard_day_id is not None:
        request.state = State.DECLINED
        fields = ["state"]
    elif request.offered_to_id == by.pk:
        request.offered_to = None
        fields = ["offered_to"]
    request.save_changes(fields=fields)
    step_note(request, Kind.DECLINED, by=by, words=reason)


@transaction.atomic
def second_opinion_offer(
    *, request: SecondOpinionRequest, adviser_id: uuid.UUID, by: Person
) -> SecondOpinionRequest:
    """Ask one adviser, as the secretary; until they decline nobody else can take it.

    Raises `Invalid` at /adviser for somebody who answered or declined that boat before, belongs to
    the group, or is no adviser; `Conflict` if somebody has it.
    """
    require_in_club(by, ClubAction.MANAGE, request.open_within)
    request_locked(pk=request.pk)
    request.refresh_from_db(fields=["state", "offered_to", "version"])
    if request.state != State.WAITING:
        raise Conflict("taken", "Somebody has it already.")
    adviser = Person.objects.filter(pk=adviser_id).first()
    if adviser is None or not requests_open_to(adviser).filter(pk=request.pk).exists():
        raise Invalid.at("/adviser", "cannot_be_asked", "They cannot be asked about this boat.")
    gave = Q(kind=Kind.ANSWERED) | Q(kind=Kind.DECLINED)
    earlier = Step.objects.filter(gave, by=adviser, request__candidate=request.candidate_id)
    if earlier.filter(request__yard_day=None).exists():
        raise Invalid.at("/adviser", "had_before", "They answered or declined this boat before.")
    request.offered_to = adviser
    request.save_changes(fields=["offered_to"])
    step_note(request, Kind.OFFERED, by=by, whom=adviser)
    return request


# --- Done with it --------------------------------------------------------------------------------


@transaction.atomic
def second_opinion_answer(*, assignment: Assignment, by: Person, answer: str = "") -> Assignment:
    """Answer in words, by submitted findings, or both. Ends the person's access.

    Raises `Invalid` at /answer if there is neither.
    """
    assignment = assignment_opened(by, assignment.pk, lock=True)
    request = assignment.request
    sent = assignment.viewing is not None and assignment.viewing.submissions.filter(
        author=by, state=Submission.State.SUBMITTED
    )
    if not answer and not sent:
        raise Invalid.at("/answer", "required", "Answer in words, or submit findings first.")
    request.state, request.answer, request.answered_by = State.ANSWERED, answer, by
    request.answered_at = timezone.now()
    request.save_changes(fields=["state", "answer", "answered_by", "answered_at"])
    assignment_end(assignment, Assignment.Ending.ANSWERED)
    step_note(request, Kind.ANSWERED, by=by, words=answer)
    return assignment


@transaction.atomic
def second_opinion_hand_back(*, assignment: Assignment, by: Person, reason: str) -> Assignment:
    """Hand back, so that others are asked again, except on a yard day. Ends the access."""
    assignment = assignment_opened(by, assignment.pk, lock=True)
    request_again(assignment.request)
    assignment_end(assignment, Assignment.Ending.HANDED_BACK)
    step_note(assignment.request, Kind.HANDED_BACK, by=by, words=reason)
    return assignment


def assignment_lapse(assignment: Assignment) -> None:
    """End an assignment because a role or membership ended or began."""
    request_again(assignment.request)
    assignment_end(assignment, Assignment.Ending.LAPSED)
    step_note(assignment.request, Kind.LAPSED, by=None, whom=assignment.person)
