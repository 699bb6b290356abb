"""Reads of a boat's work list and season, made of her stored results and what people recorded."""

import math
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.http import Http404
from django.shortcuts import get_object_or_404
from django.utils import timezone

from apps.accounts.models import Person
from apps.appraisal.board.candidate_selectors import CandidateHead, candidate_read
from apps.appraisal.compute.inputs import Brief, brief_of
from apps.appraisal.jobs import Of
from apps.appraisal.reading import Reading
from apps.appraisal.stored import CONSENSUS, ROLLUP, read
from apps.appraisal.stored.candidates import Consensus
from apps.appraisal.words import sentences
from apps.boats.models import Candidate
from apps.boats.selectors import candidate_for
from apps.catalogue.content import CautionEntry
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.snapshot import Catalogue
from apps.groups.selectors import buyers_of, shares_of
from apps.ownership.handover.selectors import handover_if_any
from apps.ownership.models import SeasonSettings, WorkDecision
from apps.ownership.season.calendar import month_of
from apps.ownership.season.keeping import Keeping, keeping_of
from apps.ownership.season.models import MOST_HOURS
from apps.ownership.season.planning import SeasonPlan, season_planned
from apps.ownership.season.work import State, WorkFacts, WorkList, cost_if_needed, work_list
from apps.purchase.facts import LiveBill, bills_on

# What hurts people who work on boats, told with every work list.
ALWAYS = ("ladders", "stands", "closed-spaces", "gas-petrol-co", "dust-old-paint", "licensed-work")
# And with enabling work that is planned.
WITH_ENABLING = {
    "lift-out": ("lifting", "stands"),
    "mast-down": ("lifting", "aloft", "broken-wire"),
    "engine-out": ("lifting", "engine-shaft"),
}


@dataclass(frozen=True)
class SeasonRead:
    """plan, keeping: None if the boat cannot be priced yet; `missing` says what for.

    settings: as stored, or the usual ones, not stored. decisions: by remedy.
    """

    candidate: Candidate
    envelope: CandidateHead
    currency: str
    settings: SeasonSettings
    missing: Sequence[str]
    sentence: str
    work: WorkList | None
    plan: SeasonPlan | None
    keeping: Keeping | None
    decisions: Mapping[str, WorkDecision]
    cautions: Sequence[CautionEntry]
    buyers: Mapping[uuid.UUID, Person]

    @property
    def stored(self) -> SeasonSettings | None:
        return None if self.settings._state.adding else self.settings


def season_of_boat(person: Person, candidate_id: uuid.UUID, wait: float = 0) -> SeasonRead:
    """The work on a boat, as the reader may see it. Raises `Http404`."""
    reading = Reading.of_candidate(person, candidate_id, Of.BOARD, wait)
    candidate = candidate_for(person, candidate_id)
    catalogue = catalogue_snapshot(candidate.list.group_id).catalogue
    found = candidate_read(reading, candidate_id, Of.BOARD, ROLLUP)
    stored = read(found.row, ROLLUP)
    settings = settings_if_any(candidate) or usual_settings(candidate)
    decisions = decisions_on(candidate)
    brief, buyers = brief_of(candidate.list, catalogue), buyers_of(candidate.list.group_id)
    work = plan = keeping = None
    rollup = stored.value
    if rollup is not None and not rollup["missing"]:
        work = work_list(
            WorkFacts(
                candidate=candidate,
                brief=brief,
                catalogue=catalogue,
                rollup=rollup,
                consensus=consensus_of(reading, candidate_id),
                decisions=decisions,
                bills=bills_of(candidate),
                estimates={code: float(one) for code, one in settings.estimates.items()},
            )
        )
        shares = shares_of(buyers)
        plan = season_planned(work, settings, shares)
        paid = price_paid(candidate, brief)
        keeping = keeping_of(
            rollup, work, plan, brief, price=paid, resale=settings.resale, shares=shares
        )
    missing = rollup["missing"] if rollup is not None else []
    return SeasonRead(
        candidate=candidate,
        envelope=found.answer(stored),
        currency=brief.currency,
        settings=settings,
        missing=missing,
        sentence=sentences.missing(missing),
        work=work,
        plan=plan,
        keeping=keeping,
        decisions=decisions,
        cautions=cautions_of(catalogue, work, plan),
        buyers={one.person_id: one.person for one in buyers},
    )


def consensus_of(reading: Reading, candidate_id: uuid.UUID) -> Consensus | None:
    return read(candidate_read(reading, candidate_id, Of.BOARD, CONSENSUS).row, CONSENSUS).value


def bills_of(candidate: Candidate) -> list[LiveBill]:
    on_list = bills_on([candidate.list_id])
    return [bill for bill in on_list if bill.candidate_id == candidate.pk]


def decisions_on(candidate: Candidate) -> dict[str, WorkDecision]:
    """By remedy."""
    found = WorkDecision.objects.select_related("changed_by").filter(candidate=candidate)
    return {one.remedy_id: one for one in found}


def settings_if_any(candidate: Candidate) -> SeasonSettings | None:
    found = SeasonSettings.objects.select_related("changed_by").filter(candidate=candidate)
    return found.first()


def settings_of(candidate: Candidate) -> SeasonSettings:
    """Raises `Http404` until somebody set them."""
    found = SeasonSettings.objects.select_related("changed_by")
    return get_object_or_404(found, candidate=candidate)


def usual_settings(candidate: Candidate) -> SeasonSettings:
    """A year from next month on, with the own hours of the brief. Not stored."""
    settings = SeasonSettings(candidate=candidate, first_month=month_of(timezone.localdate(), 1))
    settings.own_hours = min(math.ceil(candidate.list.own_hours / settings.months), MOST_HOURS)
    return settings


def remedy_known(candidate: Candidate, code: str) -> None:
    """Raises `Http404` for a remedy that the group's catalogue does not have."""
    if code not in catalogue_snapshot(candidate.list.group_id).catalogue.remedies:
        raise Http404


def decision_if_any(candidate: Candidate, remedy: str) -> WorkDecision | None:
    found = WorkDecision.objects.select_related("candidate__list", "changed_by")
    return found.filter(candidate=candidate, remedy=remedy).first()


def decision_of(person: Person, candidate_id: uuid.UUID, remedy: str) -> WorkDecision:
    """Raises `Http404` where nobody decided."""
    candidate_for(person, candidate_id)
    return get_object_or_404(
        WorkDecision.objects.select_related("candidate__list", "changed_by"),
        candidate=candidate_id,
        remedy=remedy,
    )


def estimates_of(person: Person, candidate: Candidate) -> dict[str, str]:
    """What each remedy would cost now if it is needed, as decimal text."""
    reading = Reading.of_candidate(person, candidate.pk, Of.BOARD)
    rollup = read(candidate_read(reading, candidate.pk, Of.BOARD, ROLLUP).row, ROLLUP).value
    remedies = rollup.get("remedies", ()) if rollup else ()
    return {one["remedy"]: f"{cost_if_needed(one):.2f}" for one in remedies}


def price_paid(candidate: Candidate, brief: Brief) -> float | None:
    """As on the bill of sale, in the list's currency; None if nobody recorded it."""
    handover = handover_if_any(candidate)
    if handover is None or handover.price_amount is None:
        return None
    return brief.in_own_currency(float(handover.price_amount), handover.price_currency)


def cautions_of(
    catalogue: Catalogue, work: WorkList | None, plan: SeasonPlan | None
) -> list[CautionEntry]:
    """Those that always hold, those of the planned work, and those of its enabling work."""
    codes = list(ALWAYS)
    for one in plan.enabling if plan else ():
        codes += WITH_ENABLING.get(one.code, ())
    for item in work.items if work else ():
        codes += item.cautions if item.state == State.PLANNED else ()
    known = catalogue.cautions
    return [known[code] for code in dict.fromkeys(codes) if code in known]
