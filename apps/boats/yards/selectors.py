"""Reads, scoped to the reader."""

import uuid

from django.db.models import Count, Q, QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.boats.list_models import CandidateList
from apps.boats.yards.models import Yard
from apps.groups.models import Group
from apps.groups.rules import club_membership_of, membership_of, visible_clubs, visible_groups


def yards_visible(person: Person) -> QuerySet[Yard]:
    """The yards of the reader's groups, of those groups' clubs, and of the reader's clubs."""
    groups = visible_groups(person)
    return Yard.objects.filter(
        Q(group__in=groups)
        | Q(club__in=visible_clubs(person))
        | Q(club__in=groups.exclude(club=None).values("club"))
    )


def yard_for(person: Person, yard_id: uuid.UUID) -> Yard:
    return get_object_or_404(yards_visible(person), pk=yard_id)


def yards_of_club(person: Person, club_id: uuid.UUID) -> QuerySet[Yard]:
    """The yards of a club the reader belongs to."""
    club_membership_of(person, club_id)
    return Yard.objects.filter(club_id=club_id)


def yards_of_group(person: Person, group_id: uuid.UUID) -> QuerySet[Yard]:
    """The yards that the reader's group may use: its own and its club's."""
    return usable_yards(membership_of(person, group_id).group)


def time_zone_of(candidate_list: CandidateList) -> str:
    """Time zone of the yard where most of a list's boats lie, else of a usable yard, else UTC.

    One query.
    """
    here = Count("candidates", filter=Q(candidates__list=candidate_list))
    yards = usable_yards(candidate_list.group).annotate(boats=here).order_by("-boats", "pk")
    return yards.values_list("time_zone", flat=True).first() or "UTC"


def time_zone_of_club(person: Person, club_id: uuid.UUID) -> str:
    """Time zone of the club's first yard, else UTC."""
    zones = yards_of_club(person, club_id).order_by("pk").values_list("time_zone", flat=True)
    return zones.first() or "UTC"


def usable_yards(group: Group) -> QuerySet[Yard]:
    return Yard.objects.filter(Q(group=group) | Q(club__isnull=False, club=group.club_id))
