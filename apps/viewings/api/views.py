"""Viewings and the checklists for them: translation only."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.boats.selectors import candidate_for
from apps.groups.needs import in_group_of_candidate, in_group_of_viewing
from apps.groups.rules import Action
from apps.http.pages import page, page_of
from apps.http.views import View, versioned_response
from apps.viewings import selectors, services
from apps.viewings.api.checklist_serializers import (
    ChecklistQuery,
    ChecklistSerializer,
    checklist_shown,
)
from apps.viewings.api.serializers import (
    ViewingBody,
    ViewingChange,
    ViewingQuery,
    ViewingSerializer,
)
from apps.viewings.checklists import candidate_checklist
from apps.viewings.models import Viewing
from apps.viewings.signals import worths_of_looking


class ViewingsView(View):
    scopes = {"GET": "lists:read", "POST": "plans:write"}
    needs = {"POST": in_group_of_candidate(Action.PLAN)}
    query_serializer = ViewingQuery

    @extend_schema(operation_id="viewings_list", responses=page_of(ViewingSerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The visits to a candidate, planned and made."""
        viewings = selectors.viewings_of(self.person, candidate_id, state=self.query.get("state"))
        return page(request, viewings, self.query, ViewingSerializer)

    @extend_schema(
        operation_id="viewings_create", request=ViewingBody, responses={201: ViewingSerializer}
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Plan a visit, or note one that was made.

        Its conditions say beforehand what cannot be looked at: see the checklist.
        """
        viewing = services.viewing_add(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            **self.read_body(ViewingBody),
        )
        return shown_viewing(viewing, status=201)


class ViewingView(View):
    scopes = {"GET": "lists:read", "PATCH": "plans:write"}
    needs = {"PATCH": in_group_of_viewing(Action.PLAN)}

    @extend_schema(operation_id="viewings_read", responses=ViewingSerializer)
    def get(self, request: Request, viewing_id: uuid.UUID) -> Response:
        """One visit."""
        return shown_viewing(selectors.viewing_for(self.person, viewing_id))

    @extend_schema(
        operation_id="viewings_change", request=ViewingChange, responses=ViewingSerializer
    )
    def patch(self, request: Request, viewing_id: uuid.UUID) -> Response:
        """Change what is sent.

        Once findings were submitted from the visit, its time, its state and the conditions known
        are on record; conditions that are not known can still be filled in.
        """
        viewing = selectors.viewing_for(self.person, viewing_id)
        services.viewing_change(
            viewing=viewing,
            by=self.person,
            expected_version=self.expected_version(viewing),
            **self.read_body(ViewingChange, partial=True),
        )
        return shown_viewing(selectors.viewing_for(self.person, viewing_id))


def shown_viewing(viewing: Viewing, *, status: int = 200) -> Response:
    return versioned_response(viewing, ViewingSerializer(viewing).data, status=status)


class ChecklistView(View):
    scopes = {"GET": "lists:read"}
    query_serializer = ChecklistQuery

    @extend_schema(operation_id="checklist_read", responses=ChecklistSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """What to look at on this boat in these conditions, in walking order, and what not and why.

        A particular or a condition that nobody knows rules nothing out. The list is for a
        screening by non-experts, which is not a survey; the cautions come first. What a call
        settles is apart, in `to_ask`. With `minutes` it is a first look: what a look is worth
        most on comes in, as far as that is known and for you to see, and else what matters most;
        `later` names what stays unseen.
        """
        candidate = candidate_for(self.person, candidate_id)
        conditions = dict(self.query)
        viewing_id, minutes = conditions.pop("viewing", None), conditions.pop("minutes", None)
        if viewing_id is not None:
            viewing = selectors.viewing_on(candidate, viewing_id)
            conditions = {**viewing.conditions, **conditions}
        found = candidate_checklist(candidate, conditions)
        if minutes is not None:
            may_see = self.access is not None and self.access.allows("results:read")
            worths = worths_of_looking(self.person, candidate) if may_see else {}
            found = found.first_look(minutes, worths)
        return Response(checklist_shown(found, candidate.pk, viewing_id, conditions))
