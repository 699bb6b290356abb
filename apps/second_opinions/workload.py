"""The workload of a club's advisers, to distribute requests."""

import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import date, timedelta
from typing import TYPE_CHECKING, TypedDict

from django.db.models import Count, IntegerField, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone

from apps.accounts.models import Person
from apps.groups.models import ClubMembership, Membership
from apps.groups.rules import ClubAction, require_in_club
from apps.second_opinions.access import ADVISING
from apps.second_opinions.models import Assignment, SecondOpinionRequest, Step
from apps.second_opinions.settings import club_opinion_settings

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

# How far back past work counts for who is asked next.
COUNTED = timedelta(days=90)


class Loads(TypedDict):
    has: int
    took: int
    answered: int
    handed_back: int


def workload(
    person: Person, club_id: uuid.UUID, *, since: date | None = None, until: date | None = None
) -> "QuerySet[WithAnnotations[ClubMembership, Loads]]":
    """What each adviser has now, and took and answered between two days (inclusive)."""
    require_in_club(person, ClubAction.ADVISE, club_id)
    return advisers_loaded(club_id, since=since, until=until)


def advisers_loaded(
    club_id: uuid.UUID, *, since: date | None = None, until: date | None = None
) -> "QuerySet[WithAnnotations[ClubMembership, Loads]]":
    """Each adviser with `has`, `took`, `answered` and `handed_back`. One query."""
    since = since or (timezone.now() - COUNTED).date()
    until = until or timezone.now().date()
    made = Q(created_at__date__gte=since, created_at__date__lte=until)
    ended = Q(ended_at__date__gte=since, ended_at__date__lte=until)
    return (
        ClubMembership.objects.filter(club=club_id, ended_at=None, role__in=ADVISING)
        .select_related("person")
        .annotate(
            has=assignments_counted(Q(ended_at=None)),
            took=assignments_counted(made),
            answered=assignments_counted(ended & Q(ending=Assignment.Ending.ANSWERED)),
            handed_back=assignments_counted(ended & Q(ending=Assignment.Ending.HANDED_BACK)),
        )
    )


def assignments_counted(which: Q) -> Coalesce:
    """How many assignments of the membership's person in its club these are."""
    assignments = (
        Assignment.objects.filter(
            which,
            person=OuterRef("person"),
            request__club=OuterRef("club"),
            request__yard_day=None,
        )
        .order_by()
        .values("person")
        .annotate(count=Count("pk"))
        .values("count")
    )
    return Coalesce(Subquery(assignments, output_field=IntegerField()), 0)


def free_advisers(
    club_id: uuid.UUID, requests: Collection[SecondOpinionRequest]
) -> dict[uuid.UUID, list[Person]]:
    """By request, the advisers who may be asked, those with the fewest requests first.

    Without those who belong to the group, had or declined the boat, or have enough. Four queries.
    """
    most = club_opinion_settings(club_id).most_taken
    least_first = advisers_loaded(club_id).filter(has__lt=most).order_by("has", "took", "pk")
    advisers = [membership.person for membership in least_first]
    own = _pairs(
        Membership.objects.filter(person__in=advisers, ended_at=None).values_list("person", "group")
    )
    had = _pairs(
        Step.objects.filter(
            by__in=advisers,
            kind__in=(Step.Kind.TAKEN, Step.Kind.DECLINED),
            request__candidate__in={request.candidate_id for request in requests},
            request__yard_day=None,
        ).values_list("by", "request__candidate")
    )
    return {
        request.pk: [
            adviser
            for adviser in advisers
            if request.candidate.list.group_id not in own[adviser.pk]
            and request.candidate_id not in had[adviser.pk]
        ]
        for request in requests
    }


def _pairs(rows: Iterable[tuple[uuid.UUID, uuid.UUID]]) -> dict[uuid.UUID, set[uuid.UUID]]:
    found: dict[uuid.UUID, set[uuid.UUID]] = defaultdict(set)
    for person, other in rows:
        found[person].add(other)
    return found
