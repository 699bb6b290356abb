"""A club: second opinions asked of its advisers, days in yards, and what surveys found."""

import uuid
from datetime import tzinfo
from typing import Any

from django.http import HttpRequest, HttpResponse

from apps.groups.rules import CLUB_ALLOWED, ClubAction, club_membership_of
from apps.groups.selectors import club_members_of
from apps.outcomes.selectors import outcomes_read
from apps.pages.base import PageView
from apps.pages.visits.own_visits import zone_at
from apps.pages.visits.yard_days import SHOWN, Queued, others_days, own_days, queued
from apps.planning.selectors import trips_of_club
from apps.second_opinions.access import ADVISING
from apps.second_opinions.assigned import assignments_of, live_ids
from apps.second_opinions.models import Assignment
from apps.second_opinions.queue import second_opinion_queue
from apps.second_opinions.selectors import requests_visible


class ClubPageView(PageView):
    def get(self, request: HttpRequest, club_id: uuid.UUID) -> HttpResponse:
        membership = club_membership_of(self.person, club_id)
        advises = membership.role in CLUB_ALLOWED[ClubAction.ADVISE]
        manages = membership.role in CLUB_ALLOWED[ClubAction.MANAGE]
        asked = requests_visible(self.person).filter(club=club_id)
        return self.page(
            "pages/club.html",
            club=membership.club,
            advises=advises,
            queue=self.queue(club_id) if advises else [],
            **(self.to_offer(club_id) if manages else {}),
            taken=self.taken(club_id),
            asked=asked.order_by("-pk")[:SHOWN],
            days=others_days(self.person, club_id),
            own_days=own_days(self.person, club_id),
            trips=trips_of_club(self.person, club_id).order_by("-day", "-pk")[:SHOWN],
            outcomes=outcomes_read(self.person, club_id),
        )

    def queue(self, club_id: uuid.UUID) -> list[Queued]:
        """Those that the reader may take on, the soonest wanted first."""
        rows = second_opinion_queue(self.person, club_id, order="date", limit=SHOWN).rows
        return queued(rows, club_id)

    def to_offer(self, club_id: uuid.UUID) -> dict[str, Any]:
        """For the secretary: all that nobody has taken on, and whom to ask."""
        page = second_opinion_queue(self.person, club_id, order="date", limit=SHOWN, whole=True)
        advisers = club_members_of(self.person, club_id).filter(role__in=ADVISING)
        return {
            "waiting": queued(page.rows, club_id),
            "advisers": [
                one.person
                for one in advisers.select_related("person").order_by("person__name", "pk")
            ],
        }

    def taken(self, club_id: uuid.UUID) -> list[tuple[Assignment, tzinfo]]:
        """What the reader took on and has not answered, with the zone of the boat."""
        live = assignments_of(self.person).filter(
            pk__in=live_ids(self.person), request__club=club_id
        )
        whole = live.select_related("viewing", "request__candidate__at_yard")
        return [(one, zone_at(one.request.candidate)) for one in whole.order_by("pk")]
