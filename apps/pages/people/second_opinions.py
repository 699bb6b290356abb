"""One second opinion: for the group that asked, and for whoever took it on."""

import uuid
from collections.abc import Mapping
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse

from apps.boats.models import Candidate
from apps.catalogue.content import CheckpointEntry
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.vocabulary import PLACES
from apps.pages.base import PageView
from apps.pages.boats import particulars
from apps.pages.lists.boards import may
from apps.pages.visits.own_visits import zone_at, zone_of
from apps.pages.visits.visits import known_in, questions
from apps.second_opinions.api.assignment_serializers import CAUTION
from apps.second_opinions.assigned import assignments_of, live_ids, submissions_for
from apps.second_opinions.models import SecondOpinionRequest
from apps.second_opinions.selectors import requests_visible, steps_of
from apps.viewings.checklists import candidate_checklist
from apps.viewings.models import Submission


class SecondOpinionView(PageView):
    """For the group that asked; and for whoever took it on, as long as they look at the boat."""

    def get(self, request: HttpRequest, request_id: uuid.UUID) -> HttpResponse:
        asked = requests_visible(self.person).filter(pk=request_id).first()
        if asked is None:
            return self.page("pages/second_opinion_taken.html", **self.as_assignee(request_id))
        group_id = asked.candidate.list.group_id
        assignments = list(asked.assignments.all())
        return self.page(
            "pages/second_opinion.html",
            asked=asked,
            boat=asked.candidate,
            checks=titles(asked, catalogue_snapshot(group_id).catalogue.checkpoints),
            may=may(self.person, group_id),
            steps=steps_of(self.person, request_id).order_by("pk"),
            open=asked.state in SecondOpinionRequest.OPEN,
            assignment=next((one for one in assignments if not one.ended_at), None),
            visits=[one.viewing for one in assignments if one.viewing],
            zone=zone_at(asked.candidate),
        )

    def as_assignee(self, request_id: uuid.UUID) -> dict[str, Any]:
        """The boat without anybody's findings or opinions, and the steps up to the answer."""
        mine = assignments_of(self.person).filter(request=request_id, pk__in=live_ids(self.person))
        assignment = mine.select_related(
            "viewing__candidate__at_yard",
            "request__candidate__list",
            "request__candidate__at_yard",
        ).first()
        if assignment is None:
            raise Http404
        asked, visit = assignment.request, assignment.viewing
        boat = asked.candidate
        asked_about = questions(visit.conditions if visit else {})
        sent = submissions_for(assignment).filter(state=Submission.State.SUBMITTED)
        checkpoints = catalogue_snapshot(boat.list.group_id).catalogue.checkpoints
        return {
            "mine": assignment,
            "asked": asked,
            "boat": boat,
            "where": boat.place_in_words,
            "boat_caution": CAUTION,
            "checks": titles(asked, checkpoints),
            "particulars": list(particulars.known_of(boat)),
            "visit": visit,
            "zone": zone_of(visit),
            "questions": asked_about,
            "known": known_in(asked_about),
            "sent": sent.count(),
            "places": places_of(boat, visit.conditions if visit else {}),
        }


def titles(asked: SecondOpinionRequest, checkpoints: Mapping[str, CheckpointEntry]) -> list[str]:
    return [checkpoints[code].title for code in asked.checkpoints if code in checkpoints]


def places_of(boat: Candidate, conditions: Mapping[str, Any]) -> list[dict[str, Any]]:
    """What there is to look at in these conditions, in walking order, for readers without script
    and for paper."""
    return [
        {
            "title": PLACES[part.place],
            "cautions": part.cautions,
            "checks": [check.checkpoint for check in part.possible],
        }
        for part in candidate_checklist(boat, conditions).places
        if part.possible
    ]
