"""Enters a professional's report: its findings count in all results from then on."""

import re
import uuid
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from apps.accounts.models import Person
from apps.boats.exchange_rates import currency_faults
from apps.common.errors import Conflict, FieldFault, Invalid, NotAllowed, require_no_faults
from apps.common.services import record_create
from apps.groups.programs import client_note
from apps.groups.rules import Action, require
from apps.purchase.models import Quote
from apps.purchase.services import quote_add, remedy_faults, withdraw
from apps.surveys.models import Survey, SurveyFinding, SurveyReport
from apps.viewings.event_records import record_event
from apps.viewings.findings import FindingDraft
from apps.viewings.measures import Measured
from apps.viewings.models import Finding, Submission, Viewing
from apps.viewings.services import future_faults, viewing_add
from apps.viewings.submitting import SubmissionContent, submission_create

CENT = Decimal("0.01")


@dataclass(frozen=True)
class RepairRange:
    """What putting it right may cost, as the professional says."""

    low: Decimal
    high: Decimal
    currency: str

    @property
    def middle(self) -> Decimal:
        """The geometric mean: as likely to be exceeded as not, if bills spread by factors."""
        return (self.low * self.high).sqrt().quantize(CENT)


@dataclass(frozen=True)
class ReportedFinding:
    """One finding as sent. Without a checkpoint it is kept in words, and no result uses it."""

    checkpoint: str | None = None
    kind: str = Finding.Kind.LOOKED
    level: int | None = None
    reason: str = ""
    measured: Measured | None = None
    words: str = ""
    urgency: str = ""
    cost: RepairRange | None = None
    remedy: str | None = None


@dataclass(frozen=True)
class EnteredReport:
    """A whole report as sent."""

    document: str
    looked_at: datetime
    findings: Sequence[ReportedFinding]
    summary: str = ""


@transaction.atomic
def survey_report_enter(
    *, survey: Survey, by: Person, content: EnteredReport, id: uuid.UUID | None = None
) -> SurveyReport:
    """Enter the report, or a correction, which replaces the last one with its quotes.

    Raises `Invalid` with pointers to all faults; `Conflict` for a survey that was called off;
    `NotAllowed` if somebody else entered the last one.
    """
    group_id = survey.candidate.list.group_id
    require(by, Action.CLEAR, group_id)
    survey = (
        Survey.objects.select_for_update(of=("self",), no_key=True)
        .select_related("candidate__list")
        .get(pk=survey.pk)
    )
    if survey.state == Survey.State.CALLED_OFF:
        raise Conflict("survey_called_off", "This survey was called off: it has no report.")
    last = require_enterer(survey, by)
    faults = _faults(survey, content)
    submission = _submitted(survey, by, content, last, faults)
    report = SurveyReport(
        survey=survey,
        submission=submission,
        number=last.number + 1 if last else 1,
        document=content.document,
        looked_at=content.looked_at,
        summary=content.summary,
        entered_by=by,
    )
    client_note(record=report, by=by, group_id=group_id)
    record_create(report, id)
    if last is not None:
        _withdraw_quotes(last, by)
    SurveyFinding.objects.bulk_create(
        _stored(report, place, one, _quoted(survey, by, content, one))
        for place, one in enumerate(content.findings)
    )
    record_event("survey_report.entered", report, survey.candidate, by, survey=str(survey.pk))
    return report


def last_report(survey: Survey) -> SurveyReport | None:
    return survey.reports.select_related("submission__viewing").order_by("-number").first()


def require_enterer(survey: Survey, by: Person) -> SurveyReport | None:
    """The last report, which only the person who entered it corrects."""
    last = last_report(survey)
    if last is not None and last.entered_by_id != by.pk:
        raise NotAllowed("Only the one who entered the report corrects it.", ["author"])
    return last


# --- Faults --------------------------------------------------------------------------------------


def _faults(survey: Survey, content: EnteredReport) -> list[FieldFault]:
    faults = future_faults("/looked_at", content.looked_at.date())
    priced: set[str] = set()
    for index, one in enumerate(content.findings):
        at = f"/findings/{index}"
        faults += [replace(fault, pointer=at + fault.pointer) for fault in _own_faults(survey, one)]
        if one.cost is not None and one.remedy is not None:
            if one.remedy in priced:
                text = f"{one.remedy!r} has a cost already: give the whole of it once."
                faults.append(FieldFault(f"{at}/remedy", "named_twice", text))
            priced.add(one.remedy)
    return faults


def _own_faults(survey: Survey, one: ReportedFinding) -> list[FieldFault]:
    faults = []
    if one.checkpoint is None and not one.words:
        text = "Say what was found, or name a checkpoint."
        faults.append(FieldFault("/words", "required", text))
    if one.checkpoint is None and (one.level is not None or one.kind != Finding.Kind.LOOKED):
        text = "Only a checkpoint has a level, or can be out of reach."
        faults.append(FieldFault("/checkpoint", "required", text))
    elif one.checkpoint is None and one.measured is not None:
        text = "Something is measured at a checkpoint: name it."
        faults.append(FieldFault("/checkpoint", "required", text))
    if one.cost is not None:
        faults += currency_faults(survey.candidate.list, one.cost.currency, "/cost/currency")
        if one.cost.high < one.cost.low:
            faults.append(FieldFault("/cost/high", "below_low", "The range goes from low to high."))
    if one.remedy is not None:
        faults += remedy_faults(one.remedy, survey.candidate.list.group_id)
    return faults


# --- What it becomes -----------------------------------------------------------------------------


def _submitted(
    survey: Survey,
    by: Person,
    content: EnteredReport,
    last: SurveyReport | None,
    faults: list[FieldFault],
) -> Submission:
    """The report as a professional's submission, on a visit of its own."""
    placed = [n for n, one in enumerate(content.findings) if one.checkpoint is not None]
    drafts = [_draft(content.findings[n]) for n in placed]
    try:
        submission, _ = submission_create(
            viewing=_viewing(survey, by, content, last),
            by=by,
            content=SubmissionContent(
                state=Submission.State.SUBMITTED,
                supersedes=last.submission_id if last else None,
                capacity=Submission.Capacity.PROFESSIONAL,
                profession=survey.profession,
                note=content.summary,
                observed_at=content.looked_at,
                findings=drafts,
            ),
        )
    except Invalid as error:
        faults += [_moved(fault, placed) for fault in error.faults]
        raise Invalid(faults) from error
    require_no_faults(faults)
    return submission


def _moved(fault: FieldFault, placed: Sequence[int]) -> FieldFault:
    """The same fault at the finding's place in the report."""
    found = re.fullmatch(r"/findings/(\d+)(/.*)", fault.pointer)
    if found is None:
        return fault
    return replace(fault, pointer=f"/findings/{placed[int(found[1])]}{found[2]}")


def _draft(one: ReportedFinding) -> FindingDraft:
    assert one.checkpoint is not None
    return FindingDraft(
        checkpoint=one.checkpoint,
        kind=one.kind,
        level=one.level,
        reason=one.reason,
        sureness=Finding.Sureness.SURE,
        measured=one.measured,
        note=one.words,
    )


def _viewing(
    survey: Survey, by: Person, content: EnteredReport, last: SurveyReport | None
) -> Viewing:
    if last is not None and last.looked_at == content.looked_at:
        return last.submission.viewing
    where = {"where": Viewing.Where.ASHORE} if survey.lift_out else {}
    return viewing_add(
        candidate=survey.candidate,
        by=by,
        starts_at=content.looked_at,
        state=Viewing.State.MADE,
        conditions=where,
        note=f"Survey: {survey.get_kind_display()}. {survey.surveyor}",
    )


def _quoted(
    survey: Survey, by: Person, content: EnteredReport, one: ReportedFinding
) -> Quote | None:
    """A cost of a remedy counts as the professional's estimate of it."""
    if one.cost is None or one.remedy is None:
        return None
    return quote_add(
        candidate=survey.candidate,
        by=by,
        remedy=one.remedy,
        amount=one.cost.middle,
        low=one.cost.low,
        high=one.cost.high,
        currency=one.cost.currency,
        firmness=Quote.Firmness.ESTIMATE,
        from_whom=survey.surveyor,
        scope=one.words[:500],
        dated_on=timezone.localdate(content.looked_at),
    )


def _withdraw_quotes(report: SurveyReport, by: Person) -> None:
    """Those of them that nobody withdrew."""
    quotes = Quote.objects.select_related("candidate__list").filter(
        survey_finding__report=report, withdrawn_at=None
    )
    for quote in quotes:
        withdraw(record=quote, by=by, expected_version=quote.version)


def _stored(
    report: SurveyReport, place: int, one: ReportedFinding, quote: Quote | None
) -> SurveyFinding:
    return SurveyFinding(
        report=report,
        place=place,
        checkpoint_id=one.checkpoint,
        kind=one.kind,
        level=one.level,
        reason=one.reason,
        measured_value=one.measured.value if one.measured else None,
        measured_unit=one.measured.unit if one.measured else "",
        words=one.words,
        urgency=one.urgency,
        low=one.cost and one.cost.low,
        high=one.cost and one.cost.high,
        currency=one.cost.currency if one.cost else "",
        remedy_id=one.remedy,
        quote=quote,
    )
