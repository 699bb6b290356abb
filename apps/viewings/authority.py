"""What lets somebody act on one boat: belonging to her group, or having been let to her alone."""

import uuid
from dataclasses import dataclass

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.common.errors import NotVisible
from apps.groups.rules import Action, require


@dataclass(frozen=True)
class Authority:
    """In which group somebody acts. An outsider's holds for one boat, and never buys."""

    group_id: uuid.UUID
    buys: bool = False
    outsider_on: uuid.UUID | None = None

    @property
    def is_outsiders(self) -> bool:
        return self.outsider_on is not None


def authority_over(
    candidate: Candidate, by: Person, action: Action, given: Authority | None
) -> Authority:
    """What was given, if it is for this boat; without it, what the person's membership allows.

    Whoever gives one has checked it in the same transaction. Raises as `require` does.
    """
    if given is None:
        membership = require(by, action, candidate.list.group_id)
        return Authority(membership.group_id, membership.buys)
    if (given.group_id, given.outsider_on) != (candidate.list.group_id, candidate.pk):
        raise NotVisible
    return given
