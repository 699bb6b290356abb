"""Which boats a person may look at: those of their groups."""

import uuid
from collections.abc import Collection

from django.db.models import QuerySet

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.boats.vocabulary import Stage
from apps.groups.models import Membership
from apps.groups.rules import visible_groups

# A boat in these is not gone to any more.
DONE_WITH = (Stage.STRUCK_OFF, Stage.BOUGHT)


def boats_open_to(person: Person) -> QuerySet[Candidate]:
    """The boats that the person may go and look at."""
    return Candidate.objects.filter(list__group__in=visible_groups(person))


def open_among(person: Person, candidates: Collection[uuid.UUID]) -> frozenset[uuid.UUID]:
    """Those of the candidates that the person may see. One query."""
    return frozenset(boats_open_to(person).filter(pk__in=candidates).values_list("pk", flat=True))


def openers(
    people: Collection[Person], candidates: Collection[Candidate]
) -> dict[uuid.UUID, frozenset[uuid.UUID]]:
    """By candidate, those of the people who may look at her. One query for all.

    The candidates come with their lists.
    """
    groups = {candidate.list.group_id for candidate in candidates}
    rows = Membership.objects.filter(person__in=people, group__in=groups, ended_at=None)
    members: dict[uuid.UUID, set[uuid.UUID]] = {}
    for group, person in rows.values_list("group", "person"):
        members.setdefault(group, set()).add(person)
    return {
        candidate.pk: frozenset(members.get(candidate.list.group_id, ()))
        for candidate in candidates
    }
