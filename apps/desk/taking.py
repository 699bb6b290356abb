"""What somebody outside the group does with a request: takes it on, declines, answers, hands back.

One taker at a time: the state of the request is changed by one conditional update, and the
database holds one live take for each.
"""

import uuid

from django.db import transaction
from django.db.models import F, Q
from django.shortcuts import get_object_or_404
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.vocabulary import SETTLED
from apps.common.errors import Conflict, Invalid
from apps.desk.access import live_takes, request_locked, requests_open_to, take_opened
from apps.desk.ending import request_again, take_end
from apps.desk.models import LookRequest, Step, Take, YardDay
from apps.desk.settings import club_desk
from apps.desk.steps import step_note
from apps.groups.models import ClubMembership
from apps.groups.rules import ClubAction, require_in_club
from apps.viewings.models import Submission

State = LookRequest.State
Kind = Step.Kind


@transaction.atomic
def look_take(*, request_id: uuid.UUID, by: Person) -> Take:
    """Take a request on: from here on the person sees that boat.

    Raises `Conflict` if somebody else has it, it is meant for another, the person had that boat
    before or has enough, or there is no room on the yard day.
    """
    request = _asked_of(by, request_id)
    if request.candidate.stage in SETTLED:
        raise Conflict("settled", "Nobody looks for this boat any more.")
    if request.yard_day is None:
        _require_adviser_may(request, by)
    else:
        _require_room(request.yard_day)
    claimed = LookRequest.objects.filter(
        Q(offered_to=None) | Q(offered_to=by), pk=request.pk, state=State.WAITING
    ).update(state=State.TAKEN, offered_to=None, version=F("version") + 1)
    if not claimed:
        raise Conflict("taken", "Somebody else has it, or was asked for it.")
    request.refresh_from_db(fields=["state", "offered_to", "version"])
    take = Take(request=request, person=by)
    take.save(force_insert=True)
    step_note(request, Kind.TAKEN, by=by)
    return take_opened(by, take.pk)


def _asked_of(by: Person, request_id: uuid.UUID) -> LookRequest:
    """An open request that the person may know of, with what steps on it need."""
    request = get_object_or_404(
        requests_open_to(by).select_related(
            "candidate__list", "yard_day__viewing__candidate__list", "offered_to"
        ),
        pk=request_id,
    )
    if request.yard_day is None:
        require_in_club(by, ClubAction.ADVISE, request.open_within)
    return request


def _require_adviser_may(request: LookRequest, by: Person) -> None:
    """Locks the adviser's office: of two requests taken at once the second sees the first."""
    ClubMembership.objects.select_for_update(no_key=True).filter(
        club=request.club_id, person=by, ended_at=None
    ).first()
    if request.offered_to_id != by.pk and Step.objects.filter(had_by(by, request)).exists():
        raise Conflict("had_before", "You had this boat before; somebody else is to look.")
    has = live_takes(by).filter(request__club=request.club_id, request__yard_day=None).count()
    if has >= club_desk(request.open_within).most_taken:
        raise Conflict("has_enough", f"You have {has} already: answer or hand back one first.")


def had_by(person: Person, request: LookRequest) -> Q:
    """The steps by which the person had, or declined, a request of the desk on the same boat."""
    return Q(
        by=person,
        kind__in=(Kind.TAKEN, Kind.DECLINED),
        request__candidate=request.candidate_id,
        request__yard_day=None,
    )


def _require_room(day: YardDay) -> None:
    """Locks the yard day: of two boats taken at once the second sees the first."""
    day = YardDay.objects.select_for_update(no_key=True).get(pk=day.pk)
    if room_left(day) < 1:
        raise Conflict("no_room", "There is no room for another boat on this day.")


def room_left(day: YardDay) -> int:
    taken = day.requests.filter(state__in=(State.TAKEN, State.ANSWERED)).count()
    return day.room - taken


@transaction.atomic
def look_decline(*, request_id: uuid.UUID, by: Person, reason: str = "") -> None:
    """The person is not asked for this boat again. Others are, but for a yard day.

    Raises `Conflict` if somebody has it.
    """
    request = _asked_of(by, request_id)
    request_locked(pk=request.pk)
    request.refresh_from_db(fields=["state", "offered_to", "version"])
    if request.state != State.WAITING:
        raise Conflict("taken", "Somebody has it already.")
    if request.steps.filter(by=by, kind=Kind.DECLINED).exists():
        return  # said before
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
def look_offer(*, request: LookRequest, adviser_id: uuid.UUID, by: Person) -> LookRequest:
    """The secretary asks one adviser; until they decline nobody else can take it.

    Nobody is asked twice: raises `Invalid` at /adviser for whoever answered or declined that boat,
    belongs to the group, or is no adviser. `Conflict` if somebody has it.
    """
    require_in_club(by, ClubAction.MANAGE, request.open_within)
    request_locked(pk=request.pk)
    request.refresh_from_db(fields=["state", "offered_to", "version"])
    if request.state != State.WAITING:
        raise Conflict("taken", "Somebody has it already.")
    adviser = Person.objects.filter(pk=adviser_id).first()
    if adviser is None or not requests_open_to(adviser).filter(pk=request.pk).exists():
        raise Invalid.at("/adviser", "cannot_be_asked", "They cannot be asked for this boat.")
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
def look_answer(*, take: Take, by: Person, answer: str = "") -> Take:
    """Done: in words, by the findings submitted, or both. The boat is closed to the person again.

    Raises `Invalid` at /answer if there is neither.
    """
    take = take_opened(by, take.pk, lock=True)
    request = take.request
    sent = take.viewing is not None and take.viewing.submissions.filter(
        author=by, state=Submission.State.SUBMITTED
    )
    if not answer and not sent:
        raise Invalid.at("/answer", "required", "Answer in words, or submit findings first.")
    request.state, request.answer, request.answered_by = State.ANSWERED, answer, by
    request.answered_at = timezone.now()
    request.save_changes(fields=["state", "answer", "answered_by", "answered_at"])
    take_end(take, Take.Ending.ANSWERED)
    step_note(request, Kind.ANSWERED, by=by, words=answer)
    return take


@transaction.atomic
def look_hand_back(*, take: Take, by: Person, reason: str) -> Take:
    """Not done: others are asked again, but for a yard day. The boat is closed to the person."""
    take = take_opened(by, take.pk, lock=True)
    request_again(take.request)
    take_end(take, Take.Ending.HANDED_BACK)
    step_note(take.request, Kind.HANDED_BACK, by=by, words=reason)
    return take


def take_lapse(take: Take) -> None:
    """Whoever took it may not look at her any more: an office or a membership ended, or began."""
    request_again(take.request)
    take_end(take, Take.Ending.LAPSED)
    step_note(take.request, Kind.LAPSED, by=None, whom=take.person)
