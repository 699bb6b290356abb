"""Authority to act on one boat: by membership in her group, or for that boat alone."""

import uuid
from dataclasses import dataclass

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.common.errors import NotVisible
from apps.groups.rules import Action, require


@dataclass(frozen=True)
class Authority:
    """The group in which somebody acts. An outsider's covers one boat and no vote."""

    group_id: uuid.UUID
    buys: bool = False
    outsider_on: uuid.UUID | None = None

    @property
    def is_outsiders(self) -> bool:
        return self.outsider_on is not None


def authority_over(
    candidate: Candidate, by: Person, action: Action, given: Authority | None
) -> Authority:
    """The given authority if it is for this boat; otherwise the one from the person's membership.

    The caller must have checked a given one in the same transaction. Raises as `require` does.
    """
    if given is None:
        membership = require(by, action, candidate.list.group_id)
        return Authority(membership.group_id, membership.buys)
    if (given.group_id, given.outsider_on) != (candidate.list.group_id, candidate.pk):
        raise NotVisible
    return given
