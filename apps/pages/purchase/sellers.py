"""One boat's seller: what to ask before anybody travels, and what was answered."""

import uuid
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse

from apps.appraisal.board.seller_effect import seller_effect
from apps.boats.models import Candidate
from apps.pages.base import PageView
from apps.pages.boats import particulars
from apps.pages.lists.boards import may
from apps.reports.boat_sheet import LEVEL_NAMES
from apps.sellers.models import SellerAnswer
from apps.sellers.questions import SELLERS_WORD, AskedQuestion
from apps.sellers.selectors import questions_for


@dataclass(frozen=True)
class ShownAnswer:
    answer: SellerAnswer
    level: str
    claims: str
    removable: bool


@dataclass(frozen=True)
class ShownQuestion:
    """fills: name and label of each particular that the answer gives."""

    asked: AskedQuestion
    answers: list[ShownAnswer]
    fills: list[tuple[str, str]]

    @property
    def levels(self) -> list[tuple[str, str]]:
        """The options of the level, the first one none."""
        worded = zip(LEVEL_NAMES, self.asked.levels, strict=False)
        return [("", "It does not say")] + [
            (str(level), f"{name}: {words}") for level, (name, words) in enumerate(worded)
        ]


class SellerView(PageView):
    def get(self, request: HttpRequest, candidate_id: uuid.UUID) -> HttpResponse:
        boat, questions = questions_for(self.person, candidate_id)
        allowed = may(self.person, boat.list.group_id)
        manages = "manage" in allowed
        answered = any(one.answers for one in (*questions.first, *questions.more))
        asked = "changes" in request.GET
        return self.page(
            "pages/seller.html",
            boat=boat,
            list=boat.list,
            may=allowed,
            word=SELLERS_WORD,
            text=questions.text,
            rows=len(questions.unanswered) + 4,
            first=[self.question_row(boat, one, manages) for one in questions.first],
            more=[self.question_row(boat, one, manages) for one in questions.more],
            answered=answered,
            effect=seller_effect(self.person, boat.pk) if asked and answered else None,
            said_by=SellerAnswer.SaidBy.choices,
        )

    def question_row(self, boat: Candidate, one: AskedQuestion, manages: bool) -> ShownQuestion:
        return ShownQuestion(
            one,
            [self.answer_row(answer, manages) for answer in one.answers],
            [(name, particulars.heading(name)) for name in one.fills],
        )

    def answer_row(self, answer: SellerAnswer, manages: bool) -> ShownAnswer:
        claims = "; ".join(
            f"{particulars.heading(name)} {value}" for name, value in answer.claims.items()
        )
        level = "" if answer.level is None else LEVEL_NAMES[answer.level]
        removable = manages or answer.added_by_id == self.person.pk
        return ShownAnswer(answer, level, claims, removable)
