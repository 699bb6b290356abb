"""Votes on surveys: translation only."""

import uuid
from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.common.errors import visible
from apps.groups.needs import in_group_of_candidate, in_group_of_survey_vote
from apps.groups.rules import Action
from apps.http.derived import derived
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, versioned_response
from apps.surveys import selectors, voting
from apps.surveys.api.vote_serializers import (
    SurveyBallotBody,
    SurveyBallotSerializer,
    SurveyVoteBody,
    SurveyVoteClosingBody,
    SurveyVoteSerializer,
)


class SurveyVotesView(View):
    scopes = {"GET": "opinions:read", "POST": "opinions:write"}
    needs = {"POST": in_group_of_candidate(Action.OPINE)}
    query_serializer = PageQuery

    @extend_schema(operation_id="survey_votes_list", responses=page_of(SurveyVoteSerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The votes on a survey of this boat, with the ballots that you may see."""
        votes = selectors.votes_of(self.person, candidate_id)
        return page(request, votes, self.query, SurveyVoteSerializer, reader=self.person)

    @extend_schema(
        operation_id="survey_votes_open",
        request=SurveyVoteBody,
        responses={201: SurveyVoteSerializer},
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Ask the buyers whether she is surveyed, by shares or by heads, with a quorum.

        One vote on a boat can be open at a time.
        """
        vote = voting.survey_vote_open(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            **self.read_body(SurveyVoteBody),
        )
        return vote_response(self, vote.pk, status=201)


class SurveyVoteView(View):
    scopes = {"GET": "opinions:read"}

    @extend_schema(operation_id="survey_votes_read", responses=SurveyVoteSerializer)
    def get(self, request: Request, vote_id: uuid.UUID) -> Response:
        """One vote, with the ballots that you may see."""
        return vote_response(self, vote_id)


class SurveyBallotView(View):
    put_makes = True
    scopes = {"GET": "opinions:read", "PUT": "opinions:write"}
    needs = {"PUT": in_group_of_survey_vote(Action.OPINE)}

    @extend_schema(operation_id="survey_ballots_read", responses=SurveyBallotSerializer)
    def get(self, request: Request, vote_id: uuid.UUID) -> Response:
        """Your own ballot; 404 until you gave one."""
        vote = selectors.vote_for(self.person, vote_id)
        ballot = visible(selectors.ballot_by(self.person, vote))
        return versioned_response(ballot, SurveyBallotSerializer(ballot).data)

    @extend_schema(
        operation_id="survey_ballots_give",
        request=SurveyBallotBody,
        responses={200: SurveyBallotSerializer, 201: SurveyBallotSerializer},
    )
    def put(self, request: Request, vote_id: uuid.UUID) -> Response:
        """Vote, or change your ballot until the closing. The first needs no If-Match."""
        vote = selectors.vote_for(self.person, vote_id)
        own = selectors.ballot_by(self.person, vote)
        ballot = voting.survey_ballot_give(
            vote=vote,
            by=self.person,
            ballot=own,
            expected_version=self.expected_of(own),
            **self.read_body(SurveyBallotBody),
        )
        return versioned_response(
            ballot, SurveyBallotSerializer(ballot).data, status=200 if own else 201
        )


def closer(person: Person, named: Mapping[str, Any]) -> None:
    """Only who opened the vote, or an organiser."""
    voting.require_closer(selectors.vote_for(person, named["vote_id"]), person)


class SurveyVoteClosingView(View):
    scopes = {"POST": "opinions:write"}
    needs = {"POST": closer}

    @extend_schema(
        operation_id="survey_votes_close",
        request=SurveyVoteClosingBody,
        responses=SurveyVoteSerializer,
    )
    def post(self, request: Request, vote_id: uuid.UUID) -> Response:
        """Count the ballots by the shares or heads of now: the outcome stays on record.

        For who opened the vote, and for organisers. It is accepted if the quorum voted and more
        were in favour than against. It decides nothing by itself: people commission a survey.
        """
        vote = selectors.vote_for(self.person, vote_id)
        voting.survey_vote_close(vote=vote, by=self.person, **self.read_body(SurveyVoteClosingBody))
        return vote_response(self, vote_id)


def vote_response(view: View, vote_id: uuid.UUID, *, status: int = 200) -> Response:
    """With an ETag of the content: a vote differs by reader."""
    vote = selectors.vote_for(view.person, vote_id)
    answer = derived(SurveyVoteSerializer(vote, context={"reader": view.person}).data)
    answer.status_code = status
    return answer
