"""Services by which an existing group joins a club and leaves it.

The group's organiser asks, a secretary of the club decides. Either side may end it at any time.
Every change locks the club first, so that changes of the club's catalogue see which groups belong
to it, and groups that leave at the same time wait for each other.
"""

import uuid

from django.db import IntegrityError, transaction
from django.utils import timezone

from apps.accounts.models import Person
from apps.common.errors import Conflict, NotVisible
from apps.common.services import record_create
from apps.events.services import event_announce, events_at_the_end
from apps.groups.models import AdmissionRequest, Club, Group
from apps.groups.rules import Action, ClubAction, require, require_decider, require_in_club
from apps.groups.selectors import group_locked
from apps.groups.services import AGREEMENTS, agreement_event_record, record_event

State = AdmissionRequest.State
FIELDS_OF_DECISION = ["state", "reason", "settled_at", "settled_by"]


@transaction.atomic
def admission_ask(
    *,
    group_id: uuid.UUID,
    by: Person,
    club_id: uuid.UUID,
    note: str = "",
    id: uuid.UUID | None = None,
) -> AdmissionRequest:
    """Ask a club that `by` belongs to whether the group may join.

    Raises `NotVisible` for another club, `Conflict` if the group has a club or an open request.
    """
    require(by, Action.MANAGE, group_id)
    require_in_club(by, ClubAction.READ, club_id)
    if group_locked(group_id).club_id is not None:
        raise Conflict("in_a_club", "The group belongs to a club: leave that one first.")
    request = AdmissionRequest(group_id=group_id, club_id=club_id, asked_by=by, note=note)
    try:
        record_create(request, id)
    except IntegrityError as error:
        raise Conflict(
            "open_already", "The group has asked a club, which has not decided."
        ) from error
    _record_event(request, "asked", by)
    return request


@transaction.atomic
def admission_withdraw(*, request: AdmissionRequest, by: Person, expected_version: int) -> None:
    require(by, Action.MANAGE, request.group_id)
    request_settle(request, State.WITHDRAWN, by, expected_version=expected_version)


@transaction.atomic
def admission_decide(
    *, request: AdmissionRequest, by: Person, expected_version: int, state: str, reason: str = ""
) -> AdmissionRequest:
    """Take the group in, or decline. state: "accepted" or "declined".

    This reveals nothing of the group's data to the club, and the group agrees to nothing yet.
    """
    require_decider(by, request)
    club_lock(request.club_id)
    group = group_locked(request.group_id)
    request_settle(request, state, by, reason=reason, expected_version=expected_version)
    if state == State.ACCEPTED:
        if group.club_id is not None:
            raise Conflict("in_a_club", "The group has joined a club meanwhile.")
        group.club_id = request.club_id
        group.save_changes(fields=["club"])
        _record_group_event(group, "group.joined_club", request.club_id, by)
    return request


def request_settle(
    request: AdmissionRequest,
    state: str,
    by: Person,
    *,
    reason: str = "",
    expected_version: int | None = None,
) -> None:
    """Settle the request. Raises `Conflict` if it was settled before, `Stale` if meanwhile."""
    if request.state != State.WAITING:
        raise Conflict("not_open", f"It is {request.state} already.")
    request.state, request.reason = state, reason
    request.settled_at, request.settled_by = timezone.now(), by
    request.save_changes(expected_version=expected_version, fields=FIELDS_OF_DECISION)
    _record_event(request, state, by)


@transaction.atomic
def club_leave(*, group: Group, by: Person, expected_version: int) -> None:
    """The group leaves its club. Raises `Conflict` if it has none."""
    require(by, Action.MANAGE, group.pk)
    _part(group, by, expected_version)


@transaction.atomic
def club_let_go(*, group: Group, by: Person, expected_version: int) -> None:
    """The club removes a group, without the group's consent."""
    if group.club_id is None:  # it has left meanwhile
        raise NotVisible
    require_in_club(by, ClubAction.MANAGE, group.club_id)
    _part(group, by, expected_version)


@events_at_the_end()
def _part(group: Group, by: Person, expected_version: int) -> None:
    """End the group's membership and its agreements with the club; findings stay on record.

    Subscribers end everything else that came from the club, or keep it as the group's own.
    """
    club_id = group.club_id
    if club_id is None:
        raise Conflict("no_club", "The group belongs to no club.")
    club_lock(club_id)
    agreed = [field for field in AGREEMENTS if getattr(group, field)]
    group.club = None
    for field in agreed:
        setattr(group, field, False)
    group.save_changes(expected_version=expected_version, fields=["club", *agreed])
    for kind in ("group.club_access_ends", "group.club_ends"):
        event_announce(
            kind=kind,
            group_id=group.pk,
            thing="group",
            thing_id=group.pk,
            by_id=by.pk,
            facts={"club": str(club_id)},
        )
    for field in agreed:
        agreement_event_record(group, field, False, club_id, by)
    _record_group_event(group, "group.left_club", club_id, by)


def club_lock(club_id: uuid.UUID) -> None:
    Club.objects.select_for_update(no_key=True).get(pk=club_id)


def _record_group_event(group: Group, kind: str, club_id: uuid.UUID, by: Person) -> None:
    record_event(group.pk, kind, "group", group.pk, group.version, by, club=str(club_id))


def _record_event(request: AdmissionRequest, step: str, by: Person) -> None:
    record_event(
        request.group_id,
        f"admission_request.{step}",
        "admission_request",
        request.pk,
        request.version,
        by,
        club=str(request.club_id),
    )
