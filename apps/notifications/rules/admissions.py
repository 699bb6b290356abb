"""Groups' requests to join a club, which wait for the club's secretaries.

The secretaries do not belong to the group, so the notification names only the request.
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
    """One group's requests: conditions, and the notifications to compare them with."""

    conditions: list[DraftPeriod] = field(default_factory=list)
    things: set[uuid.UUID] = field(default_factory=set)

    @property
    def scope(self) -> Q:
        return Q(type=TYPE, thing_id__in=self.things)


def admissions_read(group_id: uuid.UUID) -> Admissions:
    """At most two queries. The person who asked gets no notification."""
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
