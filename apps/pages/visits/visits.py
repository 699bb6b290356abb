"""Visits: planning one, and one with who goes, what is expected and what to take along."""

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.groups.rules import ALLOWED, Action, require
from apps.groups.selectors import members_of
from apps.pages.base import PageView
from apps.pages.lists.boards import may
from apps.pages.visits.looking import ConditionQuestion, asked_on, condition_serialized
from apps.pages.visits.own_visits import zone_of
from apps.pages.visits.yard_days import OwnDay, own_day
from apps.viewings.checklists import candidate_checklist
from apps.viewings.models import Submission, Viewing
from apps.viewings.selectors import submissions_of_viewing, viewing_for

# How a form sends the value of an answer.
TYPES = {bool: "boolean", int: "number"}


class NewVisitView(PageView):
    def get(self, request: HttpRequest, candidate_id: UUID) -> HttpResponse:
        boat = candidate_for(self.person, candidate_id)
        require(self.person, Action.PLAN, boat.list.group_id)
        to_sea = request.GET.get("kind") == Viewing.Kind.SEA_TRIAL
        kind = Viewing.Kind.SEA_TRIAL if to_sea else Viewing.Kind.VISIT
        return self.page(
            "pages/visits/new.html",
            boat=boat,
            kind=kind,
            cautions=candidate_checklist(boat, {"kind": kind}).cautions,
            members=members_who_look(self.person, boat.list.group_id),
            questions=questions({"kind": kind}),
        )


class VisitView(PageView):
    def get(self, request: HttpRequest, viewing_id: UUID) -> HttpResponse:
        visit = viewing_for(self.person, viewing_id)
        group_id = visit.candidate.list.group_id
        members = list(members_who_look(self.person, group_id))
        allowed = may(self.person, group_id)
        asked = questions(visit.circumstances)
        return self.page(
            "pages/visits/visit.html",
            visit=visit,
            boat=visit.candidate,
            where=visit.candidate.place_in_words,
            goes=[one.pk for one in visit.people.all()],
            members=members,
            questions=asked,
            known=known_in(asked),
            cautions=candidate_checklist(visit.candidate, {"kind": visit.kind}).cautions,
            may_look=allowed.get("submit", False) and visit.state != Viewing.State.CALLED_OFF,
            may_plan=allowed.get("plan", False),
            sent=submissions_of_viewing(self.person, visit)
            .filter(author=self.person, state=Submission.State.SUBMITTED)
            .exists(),
            zone=zone_of(visit),
            own_day=self.own_day(visit),
        )

    def own_day(self, visit: Viewing) -> OwnDay | None:
        """What the group's club sees of the visit; None without a club."""
        club_id = visit.candidate.list.group.club_id
        return own_day(self.person, visit, club_id) if club_id else None


def members_who_look(person: Person, group_id: UUID) -> Any:
    roles = ALLOWED[Action.SUBMIT]
    members = members_of(person, group_id).filter(role__in=roles)
    return members.exclude(person__kind=Person.Kind.PROGRAM).order_by("person__name", "pk")


class ConditionAsked(ConditionQuestion):
    """answer: the one that is known, in words; empty if none is."""

    type: str
    answer: str
    value: str | int | None


def known_in(asked: list[ConditionAsked]) -> list[ConditionAsked]:
    """The questions whose answer is known."""
    return [one for one in asked if one["answer"]]


def questions(conditions: dict[str, Any]) -> list[ConditionAsked]:
    """The questions to ask of a viewing of its kind, each with the answer that is known."""
    found: list[ConditionAsked] = []
    for name in asked_on(conditions.get("kind", Viewing.Kind.VISIT)):
        question = condition_serialized(name)
        value = conditions.get(name)
        answers = [one for one in question["answers"] if one["value"] == value]
        found.append(
            {
                **question,
                "type": TYPES.get(type(question["answers"][0]["value"]), ""),
                "answer": answers[0]["name"] if answers else "",
                "value": answers[0]["value"] if answers else None,
            }
        )
    return found
