"""What the viewings ask of whoever listens."""

from collections.abc import Mapping
from typing import Any

from django.dispatch import Signal

from apps.accounts.models import Person
from apps.boats.models import Candidate

# Sent with `person` and `candidate`. Each receiver gives what a look at each of her checkpoints is
# worth, by code, as far as it knows and the person may see.
worths_wanted = Signal()


def worths_of_looking(person: Person, candidate: Candidate) -> Mapping[str, float]:
    """Empty where nothing is known, or nothing that the person may see."""
    found: dict[str, float] = {}
    answers: list[tuple[Any, Any]] = worths_wanted.send(
        Candidate, person=person, candidate=candidate
    )
    for _, worths in answers:
        found |= worths
    return found
