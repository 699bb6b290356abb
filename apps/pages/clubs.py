"""A club: second opinions asked of its advisers, days in yards, and what surveys found."""

import uuid
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse

from apps.appraisal.words.phrases import about_amount, figure
from apps.boats.models import Candidate
from apps.boats.selectors import candidates_visible
from apps.boats.vocabulary import SETTLED, HullMaterial, Keel
from apps.catalogue.selectors import catalogue_snapshot, club_snapshot
from apps.groups.rules import CLUB_ALLOWED, ClubAction, club_membership_of
from apps.outcomes.selectors import outcomes_read
from apps.pages.base import PageView
from apps.pages.boards import may
from apps.planning.selectors import trips_of_club
from apps.second_opinions.assigned import assignments_of, live_ids
from apps.second_opinions.models import Assignment, SecondOpinionRequest, YardDay
from apps.second_opinions.queue import QueuedRequest, second_opinion_queue
from apps.second_opinions.selectors import requests_visible, steps_of
from apps.second_opinions.yard_days import day_on, open_days, who_goes

SHOWN = 30


@dataclass(frozen=True)
class Queued:
    """A request as an adviser sees it before taking it on, in words."""

    request: QueuedRequest
    boat: str
    checks: list[str]
    worth: str


@dataclass(frozen=True)
class Day:
    """Somebody of another group goes to a yard, and has room for other boats."""

    day: YardDay
    on: date
    place: str
    room: int
    who: str


class ClubPageView(PageView):
    def get(self, request: HttpRequest, club_id: uuid.UUID) -> HttpResponse:
        membership = club_membership_of(self.person, club_id)
        advises = membership.role in CLUB_ALLOWED[ClubAction.ADVISE]
        asked = requests_visible(self.person).filter(club=club_id)
        return self.page(
            "pages/club.html",
            club=membership.club,
            advises=advises,
            queue=self.queue(club_id) if advises else [],
            taken=self.taken(club_id),
            asked=asked.order_by("-pk")[:SHOWN],
            days=[day_of(one) for one in open_days(self.person, club_id).order_by("pk")[:SHOWN]],
            boats=self.boats(club_id),
            trips=trips_of_club(self.person, club_id).order_by("-day", "-pk")[:SHOWN],
            outcomes=outcomes_read(self.person, club_id),
        )

    def queue(self, club_id: uuid.UUID) -> list[Queued]:
        """Those that the reader may take on, the soonest wanted first."""
        checkpoints = club_snapshot(club_id).catalogue.checkpoints
        rows = second_opinion_queue(self.person, club_id, order="date", limit=SHOWN).rows
        return [
            Queued(
                row,
                kind_of_boat(row),
                [checkpoints[code].title for code in row.checkpoints if code in checkpoints],
                about_amount(float(row.value.amount), row.value.currency) if row.value else "",
            )
            for row in rows
        ]

    def taken(self, club_id: uuid.UUID) -> list[Assignment]:
        """What the reader took on and has not answered."""
        live = assignments_of(self.person).filter(pk__in=live_ids(self.person))
        return list(live.filter(request__club=club_id).order_by("pk"))

    def boats(self, club_id: uuid.UUID) -> QuerySet[Candidate]:
        """The boats of the reader's groups in the club that somebody may be asked to look at."""
        boats = candidates_visible(self.person).filter(list__group__club=club_id)
        return boats.exclude(stage__in=SETTLED).order_by("name", "pk")


def kind_of_boat(row: QueuedRequest) -> str:
    """'A boat of 10 m, steel, keel bolted fin, at Cold Harbour': not her name."""
    text = [
        f"A boat of {figure('loa_m', row.loa_m)}" if row.loa_m else "A boat",
        str(HullMaterial(row.hull_material).label) if row.hull_material else "",
        f"keel {Keel(row.keel).label}" if row.keel else "",
        f"at {row.yard.name}" if row.yard else "",
    ]
    return ", ".join(one for one in text if one)


def day_of(day: YardDay) -> Day:
    boat = day.viewing.candidate
    yard = boat.at_yard.name if boat.at_yard and boat.at_yard.club_id else ""
    near = ""
    if boat.position is not None:
        near = ", ".join(f"{one:.2f}" for one in boat.position)
    taken: int = getattr(day, "taken", 0)
    who = ""
    if day.says_who:
        names = ", ".join(one.name for one in who_goes(day.viewing))
        who = f"{names} of {boat.list.group.name}"
    return Day(day, day_on(day.viewing), yard or near, max(0, day.room - taken), who)


class SecondOpinionView(PageView):
    """For the group that asked; and for whoever took it on, as long as they look at the boat."""

    def get(self, request: HttpRequest, request_id: uuid.UUID) -> HttpResponse:
        asked = requests_visible(self.person).filter(pk=request_id).first()
        if asked is None:
            return self.page("pages/second_opinion.html", **self.as_assignee(request_id))
        group_id = asked.candidate.list.group_id
        return self.page(
            "pages/second_opinion.html",
            asked=asked,
            boat=asked.candidate,
            checks=titles(asked, catalogue_snapshot(group_id).catalogue.checkpoints),
            may=may(self.person, group_id),
            steps=steps_of(self.person, request_id).order_by("pk"),
            open=asked.state in SecondOpinionRequest.OPEN,
            assignment=next((one for one in asked.assignments.all() if not one.ended_at), None),
            visits=[one.viewing for one in asked.assignments.all() if one.viewing],
        )

    def as_assignee(self, request_id: uuid.UUID) -> dict[str, Any]:
        mine = assignments_of(self.person).filter(request=request_id, pk__in=live_ids(self.person))
        assignment = mine.select_related("viewing", "request__candidate__list").first()
        if assignment is None:
            raise Http404
        asked = assignment.request
        checkpoints = catalogue_snapshot(asked.candidate.list.group_id).catalogue.checkpoints
        return {
            "mine": assignment,
            "asked": asked,
            "boat": asked.candidate,
            "checks": titles(asked, checkpoints),
            "may": {},
        }


def titles(asked: SecondOpinionRequest, checkpoints: Any) -> list[str]:
    return [checkpoints[code].title for code in asked.checkpoints if code in checkpoints]
