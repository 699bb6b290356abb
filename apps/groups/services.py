"""Services of groups, clubs and their members."""

import uuid
from collections.abc import Mapping
from decimal import Decimal

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils import timezone

from apps.accounts.models import Person
from apps.accounts.secrets import digest, new_secret
from apps.accounts.services import person_create
from apps.common.errors import Conflict, FieldFault, Invalid, require_no_faults
from apps.common.services import record_create
from apps.events.services import event_announce, event_record, events_at_the_end
from apps.groups.models import Club, ClubMembership, Group, Invitation, Membership
from apps.groups.rules import Action, ClubAction, require, require_in_club
from apps.groups.selectors import live_members, usable_invitation

INVITATION_PREFIX = "hsi"


# A group's agreements with its club: the events when each begins and ends.
AGREEMENTS = {
    "pools_with_club": ("group.pooling_agreed", "group.pooling_ended"),
    "shares_surveys": ("group.sharing_agreed", "group.sharing_ended"),
}


@transaction.atomic
def group_create(
    *, by: Person, name: str, club_id: uuid.UUID | None = None, id: uuid.UUID | None = None
) -> Group:
    """A new group with its maker as organiser. In a club, only its members may found one."""
    if club_id is not None:
        require_in_club(by, ClubAction.READ, club_id)
    group = record_create(Group(name=name, club_id=club_id), id)
    Membership.objects.create(group=group, person=by, role=Membership.Role.ORGANISER)
    event_record(
        group_id=group.id, kind="group.created", thing="group", thing_id=group.id, by_id=by.id
    )
    return group


@transaction.atomic
@events_at_the_end()
def group_change(
    *,
    group: Group,
    by: Person,
    expected_version: int,
    name: str | None = None,
    **agreed: bool,
) -> Group:
    """Change the name, or the group's agreements with its club (`AGREEMENTS`).

    An agreement can end at any time: the group loses what it was given at once, and what it gave is
    removed as soon as the club's data are computed again. Raises `Invalid` for a group without a
    club.
    """
    require(by, Action.MANAGE, group.id)
    if group.club_id is None:
        require_no_faults(
            [
                FieldFault(f"/{field}", "no_club", "Only a group in a club can agree to this.")
                for field, agrees in agreed.items()
                if agrees
            ]
        )
    changed = {f: agrees for f, agrees in agreed.items() if getattr(group, f) != agrees}
    group.name = group.name if name is None else name
    for field, agrees in changed.items():
        setattr(group, field, agrees)
    group.save_changes(expected_version=expected_version, fields=["name", *changed])
    for field, agrees in changed.items():
        agreement_event_record(group, field, agrees, group.club_id, by)
    if not changed:
        record_event(group.id, "group.changed", "group", group.id, group.version, by)
    return group


def agreement_event_record(
    group: Group, field: str, agrees: bool, club_id: uuid.UUID | None, by: Person
) -> None:
    agreed, ended = AGREEMENTS[field]
    kind = agreed if agrees else ended
    record_event(group.id, kind, "group", group.id, group.version, by, club=str(club_id))


@transaction.atomic
def invitation_create(
    *, group_id: uuid.UUID, by: Person, role: str, note: str = ""
) -> tuple[Invitation, str]:
    """Make a one-use link into a group; its token is shown only once."""
    require(by, Action.MANAGE, group_id)
    return _invite(Invitation(group_id=group_id, role=role, note=note, created_by=by))


@transaction.atomic
def club_invitation_create(
    *, club_id: uuid.UUID, by: Person, role: str, note: str = ""
) -> tuple[Invitation, str]:
    require_in_club(by, ClubAction.MANAGE, club_id)
    return _invite(Invitation(club_id=club_id, role=role, note=note, created_by=by))


def _invite(invitation: Invitation) -> tuple[Invitation, str]:
    secret = new_secret(INVITATION_PREFIX)
    invitation.digest = digest(secret)
    invitation.expires_at = timezone.now() + settings.INVITATION_LIFETIME
    invitation.save(force_insert=True)
    return invitation, secret


@transaction.atomic
def invitation_withdraw(*, invitation: Invitation, by: Person, expected_version: int) -> None:
    """Withdraw the link. Raises `Conflict` if somebody has used it."""
    if invitation.used_at is not None:
        raise Conflict("used", "Somebody joined by this invitation already.")
    invitation.withdrawn_at = timezone.now()
    invitation.save_changes(expected_version=expected_version, fields=["withdrawn_at"])


@transaction.atomic
def invitation_accept(
    *, token: str, by: Person | None, email: str = "", name: str = "", password: str = ""
) -> Invitation:
    """Join by a link: as the person signed in, or with a new account made here.

    Raises `Invalid` at /token if the link is not valid, `Conflict` if the person is a member
    already.
    """
    invitation = usable_invitation(token)
    if invitation is None:
        raise Invalid.at(
            "/token", "unusable_invitation", "This invitation is unknown, used, withdrawn or late."
        )
    if by is None:
        by = _new_person(email, name, password)
    try:
        with transaction.atomic():
            _join(invitation, by)
    except IntegrityError as error:
        raise Conflict("already_a_member", "You belong to it already.") from error
    invitation.used_at, invitation.used_by = timezone.now(), by
    invitation.save_changes(fields=["used_at", "used_by"])
    return invitation


def _new_person(email: str, name: str, password: str) -> Person:
    given = {"email": email, "name": name, "password": password}
    missing = [
        FieldFault(f"/{field}", "required", "Needed to make an account; or sign in first.")
        for field, value in given.items()
        if not value
    ]
    if missing:
        raise Invalid(missing)
    return person_create(email=email, name=name, password=password)


def _join(invitation: Invitation, person: Person) -> None:
    if invitation.club is not None:
        invitation.club.memberships.create(person=person, role=invitation.role)
        return
    group_id = invitation.group_id
    assert group_id is not None  # a constraint holds it to one of the two
    buys = invitation.role in (Membership.Role.ORGANISER, Membership.Role.BUYER)
    membership = Membership.objects.create(
        group_id=group_id, person=person, role=invitation.role, buys=buys
    )
    # After somebody joins, shares no longer sum to 1, so they are equal until set again.
    if buys:
        live_members(group_id).update(share=None)
    member_event_record("member.joined", membership, person)


@transaction.atomic
def membership_change(
    *, membership: Membership, by: Person, role: str, buys: bool, expected_version: int
) -> Membership:
    """Change the role, except of the last organiser. A change of buyers resets the shares."""
    require(by, Action.MANAGE, membership.group_id)
    _not_of_a_program(membership)
    if buys and role not in (Membership.Role.ORGANISER, Membership.Role.BUYER):
        raise Invalid.at("/buys", "role_does_not_buy", f"A {role} does not buy.")
    if role != Membership.Role.ORGANISER:
        _keep_an_organiser(membership)
    if buys != membership.buys:
        live_members(membership.group_id).update(share=None)
        membership.share = None
    membership.role, membership.buys = role, buys
    membership.save_changes(expected_version=expected_version, fields=["role", "buys", "share"])
    member_event_record("member.changed", membership, by)
    return membership


@transaction.atomic
def membership_end(*, membership: Membership, by: Person, expected_version: int) -> None:
    """Leave, or be removed by an organiser. Findings and opinions stay on record."""
    if membership.person_id != by.pk:
        require(by, Action.MANAGE, membership.group_id)
    _not_of_a_program(membership)
    _keep_an_organiser(membership)
    membership.ended_at, membership.share = timezone.now(), None
    membership.save_changes(expected_version=expected_version, fields=["ended_at", "share"])
    if membership.buys:
        live_members(membership.group_id).update(share=None)
    member_event_record("member.left", membership, by)


def member_event_record(kind: str, membership: Membership, by: Person) -> None:
    left = membership.ended_at is not None
    record_event(
        membership.group_id,
        kind,
        "membership",
        membership.id,
        membership.version,
        by,
        deleted=left,
    )


def _not_of_a_program(membership: Membership) -> None:
    if membership.person.kind == Person.Kind.PROGRAM:
        raise Conflict("a_program", "It belongs to a program of the group: change or retire that.")


def _keep_an_organiser(membership: Membership) -> None:
    others = live_members(membership.group_id).filter(role=Membership.Role.ORGANISER)
    if membership.role == Membership.Role.ORGANISER and not others.exclude(pk=membership.pk):
        raise Conflict("last_organiser", "A group keeps at least one organiser.")


@transaction.atomic
def shares_set(
    *, group: Group, by: Person, shares: Mapping[uuid.UUID, Decimal], expected_version: int
) -> Group:
    """Set the shares: every buyer exactly once, with the sum 1."""
    require(by, Action.MANAGE, group.id)
    buyers = {m.person_id: m for m in live_members(group.id).filter(buys=True)}
    faults = [
        FieldFault("/shares", "not_a_buyer", f"{person} does not buy in this group.")
        for person in shares
        if person not in buyers
    ] + [
        FieldFault("/shares", "missing_buyer", f"The share of {person} is missing.")
        for person in buyers
        if person not in shares
    ]
    if sum(shares.values()) != 1:
        faults.append(
            FieldFault(
                "/shares",
                "sum_not_1",
                f"The shares come to {sum(shares.values())}; together they must be 1.",
            )
        )
    if faults:
        raise Invalid(faults)
    group.save_changes(expected_version=expected_version, fields=[])
    for person, share in shares.items():
        buyers[person].share = share
        buyers[person].save_changes(fields=["share"])
    record_event(group.id, "group.shares_set", "group", group.id, group.version, by)
    return group


@transaction.atomic
def club_create(*, by: Person, name: str, id: uuid.UUID | None = None) -> Club:
    """A new club with its maker as secretary."""
    club = record_create(Club(name=name), id)
    club.memberships.create(person=by, role=ClubMembership.Role.SECRETARY)
    return club


@transaction.atomic
def club_rename(*, club: Club, by: Person, name: str, expected_version: int) -> Club:
    require_in_club(by, ClubAction.MANAGE, club.id)
    club.name = name
    club.save_changes(expected_version=expected_version, fields=["name"])
    return club


@transaction.atomic
def club_membership_change(
    *, membership: ClubMembership, by: Person, role: str, expected_version: int
) -> ClubMembership:
    require_in_club(by, ClubAction.MANAGE, membership.club_id)
    if role != ClubMembership.Role.SECRETARY:
        _keep_a_secretary(membership)
    membership.role = role
    membership.save_changes(expected_version=expected_version, fields=["role"])
    club_member_announce("club_member.changed", membership)
    return membership


@transaction.atomic
def club_membership_end(*, membership: ClubMembership, by: Person, expected_version: int) -> None:
    if membership.person_id != by.pk:
        require_in_club(by, ClubAction.MANAGE, membership.club_id)
    _keep_a_secretary(membership)
    club_member_leave(membership, expected_version=expected_version)


def club_member_leave(membership: ClubMembership, *, expected_version: int | None = None) -> None:
    membership.ended_at = timezone.now()
    membership.save_changes(expected_version=expected_version, fields=["ended_at"])
    club_member_announce("club_member.left", membership)


def club_member_announce(kind: str, membership: ClubMembership) -> None:
    """Record the event without a group, because a club has no feed."""
    event_announce(kind=kind, thing_id=membership.pk)


def _keep_a_secretary(membership: ClubMembership) -> None:
    others = membership.club.memberships.filter(role=ClubMembership.Role.SECRETARY, ended_at=None)
    if membership.role == ClubMembership.Role.SECRETARY and not others.exclude(pk=membership.pk):
        raise Conflict("last_secretary", "A club keeps at least one secretary.")


def record_event(
    group_id: uuid.UUID,
    kind: str,
    thing: str,
    thing_id: uuid.UUID,
    version: int,
    by: Person,
    *,
    deleted: bool = False,
    **facts: str,
) -> None:
    event_record(
        group_id=group_id,
        kind=kind,
        thing=thing,
        thing_id=thing_id,
        thing_version=version,
        by_id=by.id,
        deleted=deleted,
        facts=facts,
    )
