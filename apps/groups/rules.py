"""Permissions: one table for groups, one for clubs, and the functions that apply them.

For people outside it, a group does not exist (`NotVisible`, 404); a member without the role gets
the roles that may (`NotAllowed`, 403).
"""

import uuid
from enum import StrEnum
from typing import TypeVar

from django.db.models import Model, QuerySet

from apps.accounts.access import PROGRAMS
from apps.accounts.models import Person
from apps.common.errors import NotAllowed, NotVisible
from apps.common.prepared import PreparedRecord
from apps.groups.models import (
    AdmissionRequest,
    Club,
    ClubMembership,
    Group,
    GroupProgram,
    Membership,
)

Row = TypeVar("Row", bound=Model)
Role = Membership.Role
ClubRole = ClubMembership.Role


class Action(StrEnum):
    """An action on a group or on anything that belongs to one."""

    READ = "read"
    SUBMIT = "submit findings"
    CLEAR = "enter what closes doubts: a professional's finding or a document"
    PLAN = "plan viewings and follow-ups"
    ADD = "add candidates, prices and quotes"
    OPINE = "give votes, valuations, wants and ballots"
    ACCOUNT = "keep the group's common money and what its owners agree"
    ASK = "ask others of the club for a look, and end it"
    MANAGE = "manage the group, its members, lists and programs"


_EVERYBODY = frozenset(Role)
_SUBMITTERS = frozenset({Role.ORGANISER, Role.BUYER, Role.HELPER})
_BUYERS = frozenset({Role.ORGANISER, Role.BUYER})
_ORGANISERS = frozenset({Role.ORGANISER})

ALLOWED: dict[Action, frozenset[Membership.Role]] = {
    Action.READ: _EVERYBODY,
    Action.SUBMIT: _SUBMITTERS,
    Action.CLEAR: _BUYERS,
    Action.PLAN: _SUBMITTERS,
    Action.ADD: _BUYERS,
    Action.OPINE: _BUYERS,
    Action.ACCOUNT: _BUYERS,
    Action.ASK: _BUYERS,
    Action.MANAGE: _ORGANISERS,
}


class ClubAction(StrEnum):
    READ = "read"
    ADVISE = "see what groups ask for, and look at a boat for one of them"
    MANAGE = "manage the club and its members"
    KEEP_YARDS = "keep the club's yards"
    CURATE = "change the club's catalogue"


CLUB_ALLOWED: dict[ClubAction, frozenset[ClubMembership.Role]] = {
    ClubAction.READ: frozenset(ClubRole),
    ClubAction.ADVISE: frozenset({ClubRole.SECRETARY, ClubRole.ADVISER}),
    ClubAction.MANAGE: frozenset({ClubRole.SECRETARY}),
    ClubAction.KEEP_YARDS: frozenset({ClubRole.SECRETARY, ClubRole.ADVISER}),
    ClubAction.CURATE: frozenset({ClubRole.SECRETARY, ClubRole.ADVISER}),
}


def _live(group_id: uuid.UUID, person_id: uuid.UUID) -> QuerySet[Membership]:
    """At most one, by a constraint."""
    return Membership.objects.filter(group_id=group_id, person_id=person_id, ended_at=None)


# Nearly every write asks this, and most by no program, which takes another query.
_LIVE = PreparedRecord(Membership, ("group",), _live, uuid.UUID, uuid.UUID)


def membership_of(person: Person, group_id: uuid.UUID) -> Membership:
    """The person's live membership in the group, or `NotVisible`. One query."""
    if uses_program(person):
        live = _live(group_id, person.pk).select_related("group")
        membership = open_to(person, live, "group").first()
    else:
        membership = _LIVE(group_id, person.pk)
    if membership is None:
        raise NotVisible
    return membership


def uses_program(person: Person) -> bool:
    """Whether by one that groups can disable."""
    return person.via is not None and person.via.kind in PROGRAMS


def open_to(person: Person, rows: QuerySet[Row], group: str) -> QuerySet[Row]:
    """The rows without those of groups that disabled the program that the person uses, if any.

    group: the path from a row to its group. Nearly all requests ask this, and most use no program:
    theirs is the shorter query.
    """
    if not uses_program(person):
        return rows
    return rows.exclude(**{f"{group}__in": shut_to(person)})


def shut_to(person: Person) -> QuerySet[GroupProgram, uuid.UUID]:
    """The ids of groups that disabled the program that the person uses, if any."""
    if person.via is None or person.via.kind not in PROGRAMS:
        return GroupProgram.objects.none().values_list("group_id", flat=True)
    return GroupProgram.objects.filter(program_id=person.via.id, enabled=False).values_list(
        "group_id", flat=True
    )


def require(person: Person, action: Action, group_id: uuid.UUID) -> Membership:
    """The membership that allows the action. Raises `NotVisible`, `NotAllowed`. One query."""
    membership = membership_of(person, group_id)
    if membership.role not in ALLOWED[action]:
        raise NotAllowed(
            f"A group's {membership.role} may not {action}.",
            sorted(role.value for role in ALLOWED[action]),
        )
    if action is Action.OPINE and not membership.buys:
        raise NotAllowed("Only those who buy give opinions that count.", ["buyer"])
    return membership


def require_adder_or_organiser(
    person: Person, action: Action, group_id: uuid.UUID, added_by_id: uuid.UUID
) -> None:
    """To take back what one person added: that person, while they may still do it, or an organiser.

    Raises `NotVisible`, `NotAllowed`. One query.
    """
    membership = require(person, action, group_id)
    if added_by_id != person.pk and membership.role not in ALLOWED[Action.MANAGE]:
        raise NotAllowed(
            "Only the person who added it, or an organiser, may take it back.", ["organiser"]
        )


def actions_of(person: Person, group_id: uuid.UUID) -> frozenset[Action]:
    """What the person may do in the group, or `NotVisible`. One query."""
    membership = membership_of(person, group_id)
    allowed = {action for action, roles in ALLOWED.items() if membership.role in roles}
    return frozenset(allowed if membership.buys else allowed - {Action.OPINE})


def club_membership_of(person: Person, club_id: uuid.UUID) -> ClubMembership:
    membership = (
        ClubMembership.objects.select_related("club")
        .filter(club_id=club_id, person=person, ended_at=None)
        .first()
    )
    if membership is None:
        raise NotVisible
    return membership


def require_in_club(person: Person, action: ClubAction, club_id: uuid.UUID) -> ClubMembership:
    """The same in a club."""
    membership = club_membership_of(person, club_id)
    if membership.role not in CLUB_ALLOWED[action]:
        raise NotAllowed(
            f"A club's {membership.role} may not {action}.",
            sorted(role.value for role in CLUB_ALLOWED[action]),
        )
    return membership


def require_decider(by: Person, request: AdmissionRequest) -> None:
    """Require that `by` may decide the request; the group's own people may only see it."""
    try:
        require_in_club(by, ClubAction.MANAGE, request.club_id)
    except NotVisible:
        membership_of(by, request.group_id)
        raise NotAllowed("Only a secretary of the club decides.", ["secretary"]) from None


def visible_groups(person: Person) -> QuerySet[Group]:
    """The groups that this person may see. Every other scope builds on this."""
    groups = Group.objects.filter(memberships__person=person, memberships__ended_at=None)
    return open_to(person, groups, "pk")


def visible_clubs(person: Person) -> QuerySet[Club]:
    return Club.objects.filter(memberships__person=person, memberships__ended_at=None)
