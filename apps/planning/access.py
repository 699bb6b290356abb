"""Which boats a person may look at: those of their groups and those of accepted requests."""

import uuid
from collections.abc import Collection

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.second_opinions.lookable import boats_open_to


def open_among(person: Person, candidates: Collection[uuid.UUID]) -> frozenset[uuid.UUID]:
    """Those of the candidates that the person may see. One query."""
    return frozenset(boats_open_to(person).filter(pk__in=candidates).values_list("pk", flat=True))


def openers(
    people: Collection[Person], candidates: Collection[Candidate]
) -> dict[uuid.UUID, frozenset[uuid.UUID]]:
    """By candidate, those of the people who may look at her. One query a person."""
    ids = [candidate.pk for candidate in candidates]
    opened = {person.pk: open_among(person, ids) for person in people}
    return {
        one: frozenset(person for person, boats in opened.items() if one in boats) for one in ids
    }
