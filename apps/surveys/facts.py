"""Surveys' reports on a whole list as plain facts, for no particular reader."""

import uuid
from dataclasses import dataclass

from apps.surveys.models import Survey, SurveyFinding, SurveyReport


@dataclass(frozen=True)
class PricedWork:
    """A remedy that a report prices where it found something; `submission_id` has the finding."""

    candidate_id: uuid.UUID
    submission_id: uuid.UUID
    checkpoint: str
    remedy: str


def list_priced(list_id: uuid.UUID) -> list[PricedWork]:
    """What the reports on the list price at a checkpoint, unless the price was withdrawn: a report
    that was corrected has withdrawn its own. One query."""
    findings = SurveyFinding.objects.filter(
        report__survey__candidate__list=list_id,
        checkpoint__isnull=False,
        quote__isnull=False,
        quote__withdrawn_at=None,
    )
    rows = findings.order_by("pk").values_list(
        "report__survey__candidate_id", "report__submission_id", "checkpoint_id", "remedy_id"
    )
    return [PricedWork(*row) for row in rows]


def surveyed_whole(list_id: uuid.UUID) -> set[uuid.UUID]:
    """The boats of a list that a surveyor has reported on as a whole. One query."""
    reports = SurveyReport.objects.filter(
        survey__candidate__list=list_id, survey__kind=Survey.Kind.HULL
    )
    return set(reports.values_list("survey__candidate_id", flat=True))
