"""A person leaves all groups and clubs at once."""

from collections.abc import Iterable
from typing import Any

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from apps.accounts.models import Person
from apps.common.errors import Conflict
from apps.events.services import events_at_the_end
from apps.groups import services
from apps.groups.admissions import request_settle
from apps.groups.models import (
    AdmissionRequest,
    ClubMembership,
    GroupProgram,
    Invitation,
    Membership,
)
from apps.groups.programs import program_retire

Member = Membership | ClubMembership


@transaction.atomic
@events_at_the_end()
def everything_leave(*, person: Person) -> None:
    """End all memberships of a person. Their findings and opinions stay on record.

    Raises `Conflict` if others would remain without an organiser or a secretary. A group or club
    without anybody else remains, without access for anybody; its programs are retired.
    """
    in_groups = list(
        Membership.objects.select_related("group", "person")
        .filter(person=person, ended_at=None)
        .order_by("group")
    )
    in_clubs = list(
        ClubMembership.objects.select_related("club").filter(person=person, ended_at=None)
    )
    needed = [
        *(m.group.name for m in in_groups if _is_needed(m, _others(m.group.memberships, person))),
        *(m.club.name for m in in_clubs if _is_needed(m, _others(m.club.memberships, person))),
    ]
    if needed:
        raise Conflict(
            "hand_over_first",
            f"Nobody else leads {', '.join(needed)}: make somebody organiser or secretary first.",
        )
    for membership in in_groups:
        if _others(membership.group.memberships, person):
            services.membership_end(
                membership=membership, by=person, expected_version=membership.version
            )
        else:
            _leave_alone(membership)
    for in_club in in_clubs:
        services.club_member_leave(in_club)
    # An invitation by somebody who has left must not stay open.
    Invitation.objects.filter(created_by=person, used_at=None, withdrawn_at=None).update(
        withdrawn_at=timezone.now(), version=F("version") + 1
    )


def _others(memberships: Any, person: Person) -> list[Member]:
    """The other members who are people with a usable account."""
    live = memberships.filter(
        ended_at=None, person__kind=Person.Kind.PERSON, person__is_active=True
    )
    return list(live.exclude(person=person))


LEADERS = (Membership.Role.ORGANISER, ClubMembership.Role.SECRETARY)


def _is_needed(membership: Member, others: Iterable[Member]) -> bool:
    others = list(others)
    leads = membership.role in LEADERS
    return leads and bool(others) and not any(other.role in LEADERS for other in others)


def _leave_alone(membership: Membership) -> None:
    """End a group's last membership."""
    programs = GroupProgram.objects.select_related("program__account").filter(
        group=membership.group, program__account__isnull=False
    )
    for one in programs:
        if membership.role == Membership.Role.ORGANISER:
            program_retire(group_program=one, by=membership.person, expected_version=one.version)
    # Nobody is left whom the club could accept.
    waiting = AdmissionRequest.objects.filter(group=membership.group_id, state="waiting")
    for request in waiting:
        request_settle(request, AdmissionRequest.State.WITHDRAWN, membership.person)
    membership.ended_at, membership.share = timezone.now(), None
    membership.save_changes(fields=["ended_at", "share"])
    services.member_event_record("member.left", membership, membership.person)
