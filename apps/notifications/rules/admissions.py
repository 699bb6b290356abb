"""Groups that ask to be taken into a club, as that waits for the club's secretaries.

They belong to no group that asks: what they are told names none, only which request it is.
"""

import uuid
from dataclasses import dataclass, field

from django.db.models import Q

from apps.groups.models import AdmissionRequest
from apps.groups.selectors import secretaries_of
from apps.notifications.rules.drafts import Draft, DraftPeriod

TYPE = "admission_asked"


@dataclass(frozen=True)
class Admissions:
    """What one group asked: conditions, and which notifications they are held against."""

    conditions: list[DraftPeriod] = field(default_factory=list)
    things: set[uuid.UUID] = field(default_factory=set)

    @property
    def scope(self) -> Q:
        return Q(type=TYPE, thing_id__in=self.things)


def admissions_read(group_id: uuid.UUID) -> Admissions:
    """Two queries at most. Whoever asked is not told."""
    asked = list(AdmissionRequest.objects.filter(group=group_id).order_by("pk"))
    open_now = {one.club_id: one for one in asked if one.state == AdmissionRequest.State.WAITING}
    if not open_now:
        return Admissions(things={one.pk for one in asked})
    conditions = [
        DraftPeriod(
            Draft(
                person_id=person,
                type=TYPE,
                thing_id=open_now[club].pk,
                cause="waiting",
                club_id=club,
            )
        )
        for club, person in secretaries_of(open_now).values_list("club_id", "person_id")
        if person != open_now[club].asked_by_id
    ]
    return Admissions(conditions, {one.pk for one in asked})
