"""Reads with the reader's scope."""

import uuid
from collections.abc import Iterable
from decimal import Decimal

from django.db.models import Prefetch, Q, QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone

from apps.accounts.models import Person
from apps.accounts.secrets import digest
from apps.groups.models import (
    AdmissionRequest,
    Club,
    ClubMembership,
    Group,
    Invitation,
    Membership,
)
from apps.groups.rules import (
    Action,
    ClubAction,
    membership_of,
    require,
    require_in_club,
    visible_clubs,
    visible_groups,
)


def groups_for(person: Person) -> QuerySet[Group]:
    """The reader's groups, each with `own_membership` (a list of one)."""
    return visible_groups(person).prefetch_related(
        Prefetch(
            "memberships",
            Membership.objects.filter(person=person, ended_at=None),
            to_attr="own_membership",
        )
    )


def group_for(person: Person, group_id: uuid.UUID) -> Group:
    return get_object_or_404(groups_for(person), pk=group_id)


def group_locked(group_id: uuid.UUID) -> Group:
    """The locked group; it cannot join or leave a club until the transaction ends."""
    return Group.objects.select_for_update(of=("self",), no_key=True).get(pk=group_id)


def members_of(person: Person, group_id: uuid.UUID) -> QuerySet[Membership]:
    """The live members of a group the reader belongs to."""
    membership_of(person, group_id)
    return live_members(group_id).select_related("person")


def membership_for(person: Person, membership_id: uuid.UUID) -> Membership:
    return get_object_or_404(
        Membership.objects.select_related("person", "group").filter(
            ended_at=None, group__in=visible_groups(person)
        ),
        pk=membership_id,
    )


def live_members(group_id: uuid.UUID) -> QuerySet[Membership]:
    return Membership.objects.filter(group_id=group_id, ended_at=None)


def buyers_of(group_id: uuid.UUID) -> list[Membership]:
    """The buyers, in a fixed order. One query."""
    return list(live_members(group_id).filter(buys=True).select_related("person").order_by("pk"))


def shares_of(buyers: Iterable[Membership]) -> dict[uuid.UUID, Decimal]:
    """Each buyer's share by person id; equal shares unless all are set."""
    buyers = list(buyers)
    if buyers and all(buyer.share is not None for buyer in buyers):
        return {buyer.person_id: buyer.share for buyer in buyers if buyer.share is not None}
    return {buyer.person_id: Decimal(1) / len(buyers) for buyer in buyers}


def invitations_of(person: Person, group_id: uuid.UUID) -> QuerySet[Invitation]:
    require(person, Action.MANAGE, group_id)
    return Invitation.objects.filter(group_id=group_id)


def club_invitations_of(person: Person, club_id: uuid.UUID) -> QuerySet[Invitation]:
    require_in_club(person, ClubAction.MANAGE, club_id)
    return Invitation.objects.filter(club_id=club_id)


def invitation_for(person: Person, invitation_id: uuid.UUID) -> Invitation:
    """An invitation that the reader may manage."""
    invitation = get_object_or_404(
        Invitation.objects.filter(
            Q(group__in=visible_groups(person)) | Q(club__in=visible_clubs(person))
        ),
        pk=invitation_id,
    )
    if invitation.group_id is not None:
        require(person, Action.MANAGE, invitation.group_id)
    else:
        assert invitation.club_id is not None  # a constraint: one of the two is set
        require_in_club(person, ClubAction.MANAGE, invitation.club_id)
    return invitation


def usable_invitation(secret: str) -> Invitation | None:
    """The invitation behind a link, locked for the transaction, if it can still be used."""
    return _usable(secret).select_for_update().first()


def invitation_shown(secret: str) -> Invitation:
    """The same without a lock, to show which group or club it is for and who invites."""
    return get_object_or_404(_usable(secret).select_related("group", "club", "created_by"))


def _usable(secret: str) -> QuerySet[Invitation]:
    return Invitation.objects.filter(
        digest=digest(secret), used_at=None, withdrawn_at=None, expires_at__gt=timezone.now()
    )


def clubs_for(person: Person) -> QuerySet[Club]:
    return visible_clubs(person).prefetch_related(
        Prefetch(
            "memberships",
            ClubMembership.objects.filter(person=person, ended_at=None),
            to_attr="own_membership",
        )
    )


def club_for(person: Person, club_id: uuid.UUID) -> Club:
    return get_object_or_404(clubs_for(person), pk=club_id)


def club_members_of(person: Person, club_id: uuid.UUID) -> QuerySet[ClubMembership]:
    require_in_club(person, ClubAction.READ, club_id)
    return ClubMembership.objects.filter(club_id=club_id, ended_at=None).select_related("person")


def secretaries_of(clubs: Iterable[uuid.UUID | str]) -> QuerySet[ClubMembership]:
    """The secretaries who are people with a usable account."""
    return ClubMembership.objects.filter(
        club_id__in=clubs,
        role=ClubMembership.Role.SECRETARY,
        ended_at=None,
        person__kind=Person.Kind.PERSON,
        person__is_active=True,
    )


def club_membership_for(person: Person, membership_id: uuid.UUID) -> ClubMembership:
    return get_object_or_404(
        ClubMembership.objects.select_related("person", "club").filter(
            ended_at=None, club__in=visible_clubs(person)
        ),
        pk=membership_id,
    )


# --- Groups of a club ----------------------------------------------------------------------------


def group_in_club(person: Person, group_id: uuid.UUID) -> Group:
    """A group of the reader's with its club, or 404 if it belongs to none."""
    groups = visible_groups(person).select_related("club").exclude(club=None)
    return get_object_or_404(groups, pk=group_id)


def groups_of_club(person: Person, club_id: uuid.UUID) -> QuerySet[Group]:
    """The club's groups with `organisers`, which is all that its secretaries see of them."""
    require_in_club(person, ClubAction.MANAGE, club_id)
    organisers = Membership.objects.filter(role=Membership.Role.ORGANISER, ended_at=None)
    return Group.objects.filter(club=club_id).prefetch_related(
        Prefetch(
            "memberships",
            organisers.select_related("person").order_by("pk"),
            to_attr="organisers",
        )
    )


def group_of_club(person: Person, club_id: uuid.UUID, group_id: uuid.UUID) -> Group:
    return get_object_or_404(groups_of_club(person, club_id), pk=group_id)


ADMISSIONS = AdmissionRequest.objects.select_related("group", "club", "asked_by", "settled_by")


def admissions_of_group(
    person: Person, group_id: uuid.UUID, *, state: str | None = None
) -> QuerySet[AdmissionRequest]:
    """A group's requests to clubs, with the answers."""
    membership_of(person, group_id)
    return _in_state(ADMISSIONS.filter(group=group_id), state)


def admissions_of_club(
    person: Person, club_id: uuid.UUID, *, state: str | None = None
) -> QuerySet[AdmissionRequest]:
    require_in_club(person, ClubAction.MANAGE, club_id)
    return _in_state(ADMISSIONS.filter(club=club_id), state)


def _in_state(
    requests: QuerySet[AdmissionRequest], state: str | None
) -> QuerySet[AdmissionRequest]:
    return requests.filter(state=state) if state else requests.all()


def admission_for(person: Person, request_id: uuid.UUID) -> AdmissionRequest:
    """A request of the reader's group, or to a club whose secretary the reader is."""
    groups = visible_groups(person)
    request = get_object_or_404(
        ADMISSIONS.filter(Q(group__in=groups) | Q(club__in=visible_clubs(person))), pk=request_id
    )
    if not groups.filter(pk=request.group_id).exists():
        require_in_club(person, ClubAction.MANAGE, request.club_id)
    return request
