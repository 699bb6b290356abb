"""Reads, scoped to the reader."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.boats.models import Candidate
from apps.boats.selectors import candidate_for
from apps.common.errors import NotVisible
from apps.groups.rules import visible_groups
from apps.surveys.models import Survey, SurveyBallot, SurveyReport, SurveyVote

BALLOTS = Prefetch("ballots", SurveyBallot.objects.select_related("person").order_by("pk"))
REPORTS = Prefetch("reports", SurveyReport.objects.order_by("-number"))


def votes_visible(person: Person) -> QuerySet[SurveyVote]:
    return (
        SurveyVote.objects.filter(candidate__list__group__in=visible_groups(person))
        .select_related("candidate__list", "opened_by", "closed_by")
        .prefetch_related(BALLOTS)
    )


def votes_of(person: Person, candidate_id: uuid.UUID) -> QuerySet[SurveyVote]:
    candidate_for(person, candidate_id)
    return votes_visible(person).filter(candidate=candidate_id)


def vote_for(person: Person, vote_id: uuid.UUID) -> SurveyVote:
    return get_object_or_404(votes_visible(person), pk=vote_id)


@dataclass(frozen=True)
class SeenBallots:
    """The ballots that the reader may see, and how many others are hidden."""

    visible: list[SurveyBallot]
    hidden: int

    @property
    def cast(self) -> int:
        return len(self.visible) + self.hidden


def ballots_seen(person: Person, vote: SurveyVote) -> SeenBallots:
    """All of them once the vote is closed or the list's opinions are open; until then the own one.

    Having voted does not open the others', because a ballot can be changed until the closing.
    """
    ballots = list(vote.ballots.all())
    if not vote.is_open or vote.candidate.list.opinions_open:
        return SeenBallots(ballots, 0)
    own = [one for one in ballots if one.person_id == person.pk]
    return SeenBallots(own, len(ballots) - len(own))


def ballot_by(person: Person, vote: SurveyVote) -> SurveyBallot | None:
    return SurveyBallot.objects.select_related("person").filter(vote=vote, person=person).first()


def turnout_of(vote: SurveyVote) -> Decimal | None:
    """The part that voted, once the vote is closed."""
    if vote.in_favour is None or vote.against is None or vote.abstained is None:
        return None
    turnout: Decimal = vote.in_favour + vote.against + vote.abstained
    return turnout


def surveys_visible(person: Person) -> QuerySet[Survey]:
    return (
        Survey.objects.filter(candidate__list__group__in=visible_groups(person))
        .select_related("candidate__list", "commissioned_by", "payer")
        .prefetch_related(REPORTS)
    )


def surveys_of(person: Person, candidate_id: uuid.UUID) -> QuerySet[Survey]:
    candidate_for(person, candidate_id)
    return surveys_visible(person).filter(candidate=candidate_id)


def surveys_on(person: Person, list_id: uuid.UUID) -> dict[str, list[Survey]]:
    """Those of a list that were not called off, by the id of the boat, with the findings of their
    reports. Three queries."""
    found: dict[str, list[Survey]] = {}
    surveys = surveys_visible(person).filter(candidate__list=list_id)
    surveys = surveys.prefetch_related("reports__findings")
    for survey in surveys.exclude(state=Survey.State.CALLED_OFF).order_by("pk"):
        found.setdefault(str(survey.candidate_id), []).append(survey)
    return found


def survey_for(person: Person, survey_id: uuid.UUID) -> Survey:
    return get_object_or_404(surveys_visible(person), pk=survey_id)


def reports_of(survey: Survey) -> QuerySet[SurveyReport]:
    """The reports of a survey that the reader may see."""
    return (
        SurveyReport.objects.filter(survey=survey)
        .select_related("entered_by", "survey__candidate__list")
        .prefetch_related("findings")
    )


def reports_that_count(surveys: Iterable[Survey]) -> dict[uuid.UUID, SurveyReport]:
    """The last report of each survey that has one. Two queries."""
    found = (
        SurveyReport.objects.filter(survey__in=[one.pk for one in surveys])
        .select_related("entered_by", "survey__candidate__list")
        .prefetch_related("findings")
        .order_by("number")
    )
    return {report.survey_id: report for report in found}


def survey_report_of(candidate: Candidate) -> SurveyReport | None:
    """The newest report on the whole boat, which may settle what is asked before buying."""
    return (
        SurveyReport.objects.filter(survey__candidate=candidate, survey__kind=Survey.Kind.HULL)
        .exclude(survey__state=Survey.State.CALLED_OFF)
        .select_related("survey")
        .order_by("-looked_at", "-number")
        .first()
    )


def report_that_counts(survey: Survey) -> SurveyReport:
    """The last one. Raises `NotVisible` if there is none yet."""
    report = reports_of(survey).order_by("-number").first()
    if report is None:
        raise NotVisible
    return report
