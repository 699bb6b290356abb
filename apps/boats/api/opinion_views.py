"""Wants and their judgements, valuations and ballots: translation only."""

import uuid
from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer

from apps.accounts.models import Person
from apps.boats import opinion_services as services
from apps.boats import selectors
from apps.boats.api.fields import UnitsQuery
from apps.boats.api.opinion_serializers import (
    BallotBody,
    BallotPageSerializer,
    BallotSerializer,
    JudgementBody,
    JudgementSerializer,
    ValuationBody,
    ValuationPageSerializer,
    ValuationSerializer,
    WantBody,
    WantChangeBody,
    WantSerializer,
    WantsQuery,
)
from apps.common.errors import visible
from apps.groups.needs import in_group_of_candidate, in_group_of_list
from apps.groups.rules import Action
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, no_content, versioned_response


def own_want(person: Person, named: Mapping[str, Any]) -> None:
    services.require_own(selectors.want_for(person, named["want_id"]), person)


class OwnThingView(View):
    """The one record of its kind that the reader may have: PUT creates or replaces it."""

    put_makes = True
    scopes = {"GET": "opinions:read", "PUT": "opinions:write", "DELETE": "opinions:write"}


class EverybodysOpinionsView(View):
    """The opinions that the reader may see, and how many are hidden from them."""

    scopes = {"GET": "opinions:read"}
    query_serializer = PageQuery

    def page_of_seen(
        self,
        request: Request,
        seen: tuple[QuerySet[Any], int],
        serializer: type[BaseSerializer[Any]],
    ) -> Response:
        opinions, hidden = seen
        answer = page(request, opinions, self.query, serializer)
        answer.data["hidden"] = hidden
        return answer


class WantsView(View):
    scopes = {"GET": "opinions:read", "POST": "opinions:write"}
    needs = {"POST": in_group_of_list(Action.OPINE)}
    query_serializer = WantsQuery

    @extend_schema(operation_id="wants_list", responses=page_of(WantSerializer))
    def get(self, request: Request, list_id: uuid.UUID) -> Response:
        """What each member wants of a boat on this list."""
        wants = selectors.wants_of(selectors.list_for(self.person, list_id))
        return page(request, wants, self.query, WantSerializer, units=self.query["units"])

    @extend_schema(operation_id="wants_create", request=WantBody, responses={201: WantSerializer})
    def post(self, request: Request, list_id: uuid.UUID) -> Response:
        """Add one want of yours. The answer is in SI."""
        candidate_list = selectors.list_for(self.person, list_id)
        facts = self.read_body(WantBody)
        want = services.want_create(
            id=facts.pop("id", None), candidate_list=candidate_list, by=self.person, facts=facts
        )
        return versioned_response(want, WantSerializer(want).data, status=201)


class WantView(View):
    scopes = {"GET": "opinions:read", "PATCH": "opinions:write", "DELETE": "opinions:write"}
    needs = {"PATCH": own_want, "DELETE": own_want}
    query_serializer = UnitsQuery

    @extend_schema(operation_id="wants_read", responses=WantSerializer)
    def get(self, request: Request, want_id: uuid.UUID) -> Response:
        """One want of one member."""
        want = selectors.want_for(self.person, want_id)
        return versioned_response(
            want, WantSerializer(want, context={"units": self.query["units"]}).data
        )

    @extend_schema(operation_id="wants_change", request=WantChangeBody, responses=WantSerializer)
    def patch(self, request: Request, want_id: uuid.UUID) -> Response:
        """Change a want of yours. Only the fields sent change; the answer is in SI."""
        want = selectors.want_for(self.person, want_id)
        services.want_change(
            want=want,
            by=self.person,
            expected_version=self.expected_version(want),
            facts=self.read_body(WantChangeBody, partial=True),
        )
        return versioned_response(want, WantSerializer(want).data)

    @extend_schema(operation_id="wants_withdraw", request=None, responses={204: None})
    def delete(self, request: Request, want_id: uuid.UUID) -> Response:
        """Delete a want of yours, with its judgements."""
        want = selectors.want_for(self.person, want_id)
        services.want_withdraw(
            want=want, by=self.person, expected_version=self.expected_version(want)
        )
        return no_content()


class JudgementsView(View):
    scopes = {"GET": "opinions:read"}
    query_serializer = PageQuery

    @extend_schema(operation_id="judgements_list", responses=page_of(JudgementSerializer))
    def get(self, request: Request, want_id: uuid.UUID) -> Response:
        """Which candidates meet a free want, as its owner judged them."""
        want = selectors.want_for(self.person, want_id)
        return page(request, selectors.judgements_of(want), self.query, JudgementSerializer)


class JudgementView(OwnThingView):
    needs = {"PUT": own_want, "DELETE": own_want}

    @extend_schema(operation_id="judgements_read", responses=JudgementSerializer)
    def get(self, request: Request, want_id: uuid.UUID, candidate_id: uuid.UUID) -> Response:
        """Whether one candidate meets a free want."""
        want = selectors.want_for(self.person, want_id)
        judgement = visible(selectors.judgement_of(want, candidate_id))
        return versioned_response(judgement, JudgementSerializer(judgement).data)

    @extend_schema(
        operation_id="judgements_give",
        request=JudgementBody,
        responses={200: JudgementSerializer, 201: JudgementSerializer},
    )
    def put(self, request: Request, want_id: uuid.UUID, candidate_id: uuid.UUID) -> Response:
        """Judge whether a candidate meets a free want of yours. The first needs no If-Match."""
        want = selectors.want_for(self.person, want_id)
        candidate = selectors.candidate_on(want.list, candidate_id)
        own = selectors.judgement_of(want, candidate_id)
        judgement = services.judgement_give(
            want=want,
            candidate=candidate,
            by=self.person,
            judgement=own,
            expected_version=self.expected_of(own),
            **self.read_body(JudgementBody),
        )
        return versioned_response(
            judgement, JudgementSerializer(judgement).data, status=200 if own else 201
        )

    @extend_schema(operation_id="judgements_withdraw", request=None, responses={204: None})
    def delete(self, request: Request, want_id: uuid.UUID, candidate_id: uuid.UUID) -> Response:
        """Delete a judgement of yours: the want is then neither met nor not met."""
        want = selectors.want_for(self.person, want_id)
        own = visible(selectors.judgement_of(want, candidate_id))
        services.judgement_withdraw(
            want=want,
            judgement=own,
            by=self.person,
            expected_version=self.expected_version(own),
        )
        return no_content()


class ValuationView(OwnThingView):
    needs = {"PUT": in_group_of_candidate(Action.OPINE)}

    @extend_schema(operation_id="valuations_read", responses=ValuationSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The price that you would pay for her if everything were right."""
        candidate = selectors.candidate_for(self.person, candidate_id)
        valuation = visible(selectors.valuation_by(self.person, candidate))
        return versioned_response(valuation, ValuationSerializer(valuation).data)

    @extend_schema(
        operation_id="valuations_give",
        request=ValuationBody,
        responses={200: ValuationSerializer, 201: ValuationSerializer},
    )
    def put(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Say what you would pay for her if everything were right. The first needs no If-Match."""
        candidate = selectors.candidate_for(self.person, candidate_id)
        own = selectors.valuation_by(self.person, candidate)
        expected_version = self.expected_of(own)
        money = self.read_body(ValuationBody)["valuation"]
        valuation = services.valuation_give(
            candidate=candidate,
            by=self.person,
            amount=money.amount,
            currency=money.currency,
            valuation=own,
            expected_version=expected_version,
        )
        return versioned_response(
            valuation, ValuationSerializer(valuation).data, status=200 if own else 201
        )

    @extend_schema(operation_id="valuations_withdraw", request=None, responses={204: None})
    def delete(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Delete your valuation."""
        candidate = selectors.candidate_for(self.person, candidate_id)
        own = visible(selectors.valuation_by(self.person, candidate))
        services.valuation_withdraw(
            valuation=own,
            candidate=candidate,
            by=self.person,
            expected_version=self.expected_version(own),
        )
        return no_content()


class ValuationsView(EverybodysOpinionsView):
    @extend_schema(operation_id="valuations_list", responses=ValuationPageSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Everybody's valuations, after you gave yours or the organiser opened opinions."""
        candidate = selectors.candidate_for(self.person, candidate_id)
        seen = selectors.valuations_seen(self.person, candidate)
        return self.page_of_seen(request, seen, ValuationSerializer)


class BallotView(OwnThingView):
    needs = {"PUT": in_group_of_list(Action.OPINE)}

    @extend_schema(operation_id="ballots_read", responses=BallotSerializer)
    def get(self, request: Request, list_id: uuid.UUID) -> Response:
        """Your order of the list."""
        candidate_list = selectors.list_for(self.person, list_id)
        ballot = visible(selectors.ballot_by(self.person, candidate_list))
        return versioned_response(ballot, BallotSerializer(ballot).data)

    @extend_schema(
        operation_id="ballots_give",
        request=BallotBody,
        responses={200: BallotSerializer, 201: BallotSerializer},
    )
    def put(self, request: Request, list_id: uuid.UUID) -> Response:
        """Give your order of the candidates. The first ballot needs no If-Match."""
        candidate_list = selectors.list_for(self.person, list_id)
        own = selectors.ballot_by(self.person, candidate_list)
        ballot = services.ballot_give(
            candidate_list=candidate_list,
            by=self.person,
            ballot=own,
            expected_version=self.expected_of(own),
            **self.read_body(BallotBody),
        )
        return versioned_response(ballot, BallotSerializer(ballot).data, status=200 if own else 201)

    @extend_schema(operation_id="ballots_withdraw", request=None, responses={204: None})
    def delete(self, request: Request, list_id: uuid.UUID) -> Response:
        """Delete your ballot: your order is again computed from your valuations and wants."""
        candidate_list = selectors.list_for(self.person, list_id)
        own = visible(selectors.ballot_by(self.person, candidate_list))
        services.ballot_withdraw(
            ballot=own,
            candidate_list=candidate_list,
            by=self.person,
            expected_version=self.expected_version(own),
        )
        return no_content()


class BallotsView(EverybodysOpinionsView):
    @extend_schema(operation_id="ballots_list", responses=BallotPageSerializer)
    def get(self, request: Request, list_id: uuid.UUID) -> Response:
        """Everybody's ballots, after you gave yours or the organiser opened opinions."""
        candidate_list = selectors.list_for(self.person, list_id)
        seen = selectors.ballots_seen(self.person, candidate_list)
        return self.page_of_seen(request, seen, BallotSerializer)
