"""The survey of one boat: whether it is worth it, the vote, what was agreed, and what was found."""

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.text import capfirst

from apps.appraisal.board.answer import BoardRow
from apps.appraisal.board.selectors import Board, board_read
from apps.appraisal.looks.looks_selectors import RaterRead, raters_read
from apps.boats.models import Candidate
from apps.boats.selectors import candidate_for
from apps.catalogue.applicability import applies
from apps.catalogue.selectors import catalogue_snapshot
from apps.catalogue.snapshot import Catalogue
from apps.common.wording import FOR_THE_PROFESSIONAL, NOT_A_SURVEY
from apps.expenses.models import Ledger, LedgerEntry
from apps.expenses.selectors import entries_of, ledger_if_any
from apps.groups.selectors import members_of
from apps.pages.base import PageView
from apps.pages.boats import particulars
from apps.pages.lists.boards import looks_shown, may
from apps.pages.purchase.money import RULES
from apps.surveys import selectors
from apps.surveys.comparing import ABOVE_THE_SCREENING, SurveyComparison, comparison_of
from apps.surveys.models import Survey, SurveyBallot, SurveyFinding, SurveyReport, SurveyVote
from apps.viewings.checklists import particulars_of
from apps.viewings.models import REASONS, Finding

ROWS_AT_FIRST = 3
PURPOSES = (LedgerEntry.Purpose.SURVEY, LedgerEntry.Purpose.LIFT_OUT)


@dataclass(frozen=True)
class ShownVote:
    """A vote with what the reader sees of its ballots."""

    vote: SurveyVote
    seen: selectors.SeenBallots
    own: SurveyBallot | None
    may_close: bool

    @property
    def turnout(self) -> float | None:
        turnout = selectors.turnout_of(self.vote)
        return None if turnout is None else float(turnout)

    @property
    def quorum(self) -> float:
        return float(self.vote.quorum)


@dataclass(frozen=True)
class ShownSurvey:
    """A survey with its report that counts, and what compares with it."""

    survey: Survey
    report: SurveyReport | None
    comparison: SurveyComparison | None
    may_report: bool

    @property
    def sums(self) -> dict[str, tuple[Decimal, Decimal]]:
        """The costs that the professional named, added up by currency."""
        found: dict[str, tuple[Decimal, Decimal]] = {}
        for one in self.report.findings.all() if self.report else ():
            if one.low is not None and one.high is not None:
                low, high = found.get(one.currency, (Decimal(0), Decimal(0)))
                found[one.currency] = (low + one.low, high + one.high)
        return found


class SurveyPageView(PageView):
    def get(self, request: HttpRequest, candidate_id: uuid.UUID) -> HttpResponse:
        boat = candidate_for(self.person, candidate_id)
        allowed = may(self.person, boat.list.group_id)
        board = board_read(self.person, boat.list_id)
        votes = self.votes(boat, allowed)
        surveys = self.surveys(boat, allowed)
        return self.page(
            "pages/survey.html",
            boat=boat,
            list=boat.list,
            may=allowed,
            result=board,
            row=row_of(board, boat),
            looks=looks_shown(self.person, boat.list_id, str(boat.pk)),
            votes=votes,
            vote_is_open=any(one.vote.is_open for one in votes),
            accepted=[one.vote for one in votes if one.vote.outcome == "accepted"],
            surveys=surveys,
            surveyed=any(one.survey.kind == Survey.Kind.HULL and one.report for one in surveys),
            raters=self.raters(boat, surveys),
            not_a_survey=NOT_A_SURVEY,
            for_the_professional=FOR_THE_PROFESSIONAL,
            above_the_screening=ABOVE_THE_SCREENING,
            today=timezone.localdate(),
            **self.money(boat, allowed),
            **self.choices(boat, catalogue_snapshot(boat.list.group_id).catalogue),
        )

    def votes(self, boat: Candidate, allowed: dict[str, bool]) -> list[ShownVote]:
        """The newest first."""
        found = selectors.votes_of(self.person, boat.pk).order_by("-pk")
        return [self.vote(one, allowed) for one in found]

    def vote(self, vote: SurveyVote, allowed: dict[str, bool]) -> ShownVote:
        seen = selectors.ballots_seen(self.person, vote)
        own = next((one for one in seen.visible if one.person_id == self.person.pk), None)
        closes = "manage" in allowed or vote.opened_by_id == self.person.pk
        return ShownVote(vote, seen, own, vote.is_open and closes)

    def surveys(self, boat: Candidate, allowed: dict[str, bool]) -> list[ShownSurvey]:
        """The newest first."""
        surveys = list(selectors.surveys_of(self.person, boat.pk).order_by("-pk"))
        reports = selectors.reports_that_count(surveys)
        return [
            ShownSurvey(
                survey=one,
                report=(report := reports.get(one.pk)),
                comparison=comparison_of(report) if report else None,
                may_report="clear" in allowed
                and one.state == Survey.State.COMMISSIONED
                and (report is None or report.entered_by_id == self.person.pk),
            )
            for one in surveys
        ]

    def raters(self, boat: Candidate, surveys: Iterable[ShownSurvey]) -> list[RaterRead]:
        """How the results read the people whose looks are compared, the surveys counted."""
        compared = {
            str(person.person_id)
            for one in surveys
            if one.comparison
            for person in one.comparison.people
        }
        if not compared:
            return []
        found = raters_read(self.person, boat.list_id)["raters"]
        return [one for one in found if one["person_id"] in compared and one["kind"] == "member"]

    def money(self, boat: Candidate, allowed: dict[str, bool]) -> dict[str, Any]:
        """The common money, for those who keep it: what was paid for surveys of this boat."""
        if "account" not in allowed:
            return {"ledger": None, "paid": ()}
        ledger: Ledger | None = ledger_if_any(self.person, boat.list.group_id)[1]
        if ledger is None:
            return {"ledger": None, "paid": ()}
        entries = entries_of(self.person, boat.list.group_id).filter(
            candidate=boat.pk, purpose__in=PURPOSES
        )
        return {"ledger": ledger, "paid": list(entries)}

    def choices(self, boat: Candidate, catalogue: Catalogue) -> dict[str, Any]:
        """What the forms offer to choose from."""
        remedies = sorted(catalogue.remedies.values(), key=lambda one: one.title)
        members = [
            one
            for one in members_of(self.person, boat.list.group_id)
            if one.person.kind == "person" and one.ended_at is None
        ]
        return {
            "form": particulars.form_for(boat.list),
            "people": [(one.person_id, one.person.name) for one in members],
            "rules": RULES,
            "kinds": [(value, capfirst(words)) for value, words in Survey.Kind.choices],
            "ballot_choices": [
                ("yes", "Yes, survey her"),
                ("no", "No"),
                ("abstain", "I abstain"),
            ],
            "counted_by": SurveyVote.CountedBy.choices,
            "checkpoints": [
                (one.code, one.title)
                for one in catalogue.checkpoints.values()
                if applies(one, particulars_of(boat))
            ],
            "levels": Finding.Level.choices,
            "reasons": list(REASONS.items()),
            "urgencies": [("", "not said"), *SurveyFinding.Urgency.choices],
            "remedies": [("", "none"), *((one.code, one.title) for one in remedies)],
            "row_numbers": range(ROWS_AT_FIRST),
        }


def row_of(board: Board, boat: Candidate) -> BoardRow | None:
    """Her line on the board, struck off or not."""
    rows = (*board["candidates"], *board["struck_off"])
    return next((row for row in rows if row["candidate_id"] == str(boat.pk)), None)
