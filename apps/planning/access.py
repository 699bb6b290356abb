"""Which boats a person may look at: those of their groups."""

import uuid
from collections.abc import Collection

from django.db.models import QuerySet

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.boats.vocabulary import Stage
from apps.groups.rules import visible_groups

# A boat in these is not gone to any more.
DONE_WITH = (Stage.STRUCK_OFF, Stage.BOUGHT)


def boats_open_to(person: Person) -> QuerySet[Candidate]:
    """The boats that the person may go and look at."""
    return Candidate.objects.filter(list__group__in=visible_groups(person))


def open_among(person: Person, candidates: Collection[uuid.UUID]) -> frozenset[uuid.UUID]:
    """Those of the candidates that the person may see. One query."""
    return frozenset(boats_open_to(person).filter(pk__in=candidates).values_list("pk", flat=True))
