"""What is to be settled before a boat is bought: translation only."""

import uuid

from django.http import Http404
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.boats import selectors
from apps.boats.api.gate_serializers import GateBody, GateSerializer, GatesQuery, GatesSerializer
from apps.boats.gates.kinds import BY_CODE, LOCAL_LAW
from apps.boats.gates.selectors import gate_if_any, gate_of, gates_of
from apps.boats.gates.services import gate_set
from apps.groups.needs import in_group_of_candidate
from apps.groups.rules import Action
from apps.http.derived import derived
from apps.http.views import View, versioned_response


class GatesView(View):
    scopes = {"GET": "lists:read"}
    query_serializer = GatesQuery

    @extend_schema(operation_id="gates_list", responses=GatesSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """What to settle before she is bought, by the place of sale, and what the group said of it.

        While a needed one is open she can only be moved to `bought` by an organiser, with a reason.
        """
        candidate = selectors.candidate_for(self.person, candidate_id)
        gates = gates_of(candidate, self.query.get("sold_in", ""))
        return derived(GatesSerializer({"local_law": LOCAL_LAW, "gates": gates}).data)


class GateView(View):
    put_makes = True
    scopes = {"GET": "lists:read", "PUT": "lists:write"}
    needs = {"PUT": in_group_of_candidate(Action.ADD)}

    @extend_schema(operation_id="gates_read", responses=GateSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID, code: str) -> Response:
        """What the group said of one of them; 404 until somebody did."""
        gate = gate_of(selectors.candidate_for(self.person, candidate_id), code)
        return versioned_response(gate, GateSerializer(gate).data)

    @extend_schema(
        operation_id="gates_set",
        request=GateBody,
        responses={200: GateSerializer, 201: GateSerializer},
    )
    def put(self, request: Request, candidate_id: uuid.UUID, code: str) -> Response:
        """Say whether it is needed, who checks it by when, and whether it is settled."""
        candidate = selectors.candidate_for(self.person, candidate_id)
        if code not in BY_CODE:
            raise Http404
        known = gate_if_any(candidate, code)
        gate = gate_set(
            candidate=candidate,
            code=code,
            by=self.person,
            expected_version=self.expected_of(known),
            **self.read_body(GateBody),
        )
        status = 201 if known is None else 200
        return versioned_response(gate, GateSerializer(gate).data, status=status)
