"""Events that plans depend on: a visit called off, a boat struck off, a yard closed.

The job gathers the problem again and finds out whether the plan changes.
"""

from django.db.models import Q

from apps.events.models import Event
from apps.events.subscriptions import subscribe
from apps.groups.models import ClubMembership, Membership
from apps.planning.leaving import trips_leave
from apps.planning.messages import trips_touched, upcoming


@subscribe("viewing.changed")
def viewing_changed(event: Event) -> None:
    trips_touched(upcoming().filter(boats__stop__viewing=event.thing_id))


@subscribe("candidate.changed", "candidate.price_noted", "candidate.stage_changed")
def candidate_changed(event: Event) -> None:
    trips_touched(upcoming().filter(boats__candidate=event.thing_id))


@subscribe("yard.changed")
def yard_changed(event: Event) -> None:
    """A club's yard has an event in each of its groups."""
    boats = Q(boats__candidate__at_yard=event.thing_id, boats__candidate__list__group=event.group)
    trips_touched(upcoming().filter(boats))


@subscribe(
    "second_opinion_request.taken",
    "second_opinion_request.visit_planned",
    "second_opinion_request.answered",
)
@subscribe(
    "second_opinion_request.handed_back",
    "second_opinion_request.access_ended",
    "second_opinion_request.access_lapsed",
)
@subscribe("second_opinion_request.withdrawn")
def look_request_changed(event: Event) -> None:
    """Accepted requests affect only trips of a club's members."""
    trips_touched(upcoming().filter(group=None, boats__candidate=event.facts["candidate"]))


@subscribe("group.shares_set", "member.changed", "member.left")
@subscribe("program_member.changed", "program_member.left")
def members_changed(event: Event) -> None:
    trips_touched(upcoming().filter(group=None, boats__candidate__list__group=event.group))


@subscribe("member.left", "program_member.left")
def member_left(event: Event) -> None:
    member = Membership.objects.select_related("person").get(pk=event.thing_id)
    trips_leave(member.person, upcoming().filter(group=event.group))


@subscribe("club_member.left")
def club_member_left(event: Event) -> None:
    member = ClubMembership.objects.select_related("person").get(pk=event.thing_id)
    trips_leave(member.person, upcoming().filter(club=member.club_id))
