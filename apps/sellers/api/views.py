"""Views of the questions to a boat's seller and of the answers: translation only."""

import uuid
from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.groups.needs import in_group_of_candidate
from apps.groups.rules import Action
from apps.http.derived import derived
from apps.http.pages import page, page_of
from apps.http.views import View, no_content, versioned_response
from apps.sellers import selectors, services
from apps.sellers.api.serializers import (
    AnswersQuery,
    SellerAnswerBody,
    SellerAnswerSerializer,
    SellerQuestionsSerializer,
)
from apps.sellers.questions import SELLERS_WORD


class SellerQuestionsView(View):
    scopes = {"GET": "lists:read"}

    @extend_schema(operation_id="seller_questions_list", responses=SellerQuestionsSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """What to ask a boat's seller before anybody travels, and what was answered so far.

        The questions are fitted to her particulars: what is not known may be so.
        """
        _, questions = selectors.questions_for(self.person, candidate_id)
        content = {
            "caution": SELLERS_WORD,
            "text": questions.text,
            "first": questions.first,
            "more": questions.more,
        }
        return derived(SellerQuestionsSerializer(content).data)


class SellerAnswersView(View):
    scopes = {"GET": "lists:read", "POST": "lists:write"}
    needs = {"POST": in_group_of_candidate(Action.ADD)}
    query_serializer = AnswersQuery

    @extend_schema(operation_id="seller_answers_list", responses=page_of(SellerAnswerSerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """What a boat's seller answered, including withdrawn answers."""
        answers = selectors.answers_of(self.person, candidate_id, live_only=self.query["live"])
        return page(request, answers, self.query, SellerAnswerSerializer)

    @extend_schema(
        operation_id="seller_answers_create",
        request=SellerAnswerBody,
        responses={201: SellerAnswerSerializer},
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Record what the seller, a broker or the yard answered to one question.

        It is no look: nothing counts as looked at by it, and it closes no doubt. With a level it
        moves what is expected of her, as the word of somebody who leans to the good. What it says
        of particulars is taken as claimed, unless a paper or a measurement is known.
        """
        answer = services.answer_add(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            **self.read_body(SellerAnswerBody),
        )
        return versioned_response(answer, SellerAnswerSerializer(answer).data, status=201)


def withdrawer(person: Person, named: Mapping[str, Any]) -> None:
    answer = selectors.answer_for(person, named["seller_answer_id"])
    services.require_answer_withdrawer(answer, person)


class SellerAnswerView(View):
    scopes = {"GET": "lists:read", "DELETE": "lists:write"}
    needs = {"DELETE": withdrawer}

    @extend_schema(operation_id="seller_answers_read", responses=SellerAnswerSerializer)
    def get(self, request: Request, seller_answer_id: uuid.UUID) -> Response:
        """One answer of a seller."""
        answer = selectors.answer_for(self.person, seller_answer_id)
        return versioned_response(answer, SellerAnswerSerializer(answer).data)

    @extend_schema(operation_id="seller_answers_withdraw", request=None, responses={204: None})
    def delete(self, request: Request, seller_answer_id: uuid.UUID) -> Response:
        """Withdraw an answer that was written down wrongly. It stays on record.

        The particulars that it gave go back to what they were, if nobody changed them since.
        """
        answer = selectors.answer_for(self.person, seller_answer_id)
        services.answer_withdraw(
            answer=answer, by=self.person, expected_version=self.expected_version(answer)
        )
        return no_content()
