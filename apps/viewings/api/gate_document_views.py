"""Views of the documents that show what is to be settled before a boat is bought."""

import uuid
from collections.abc import Mapping
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.models import Person
from apps.boats.selectors import candidate_for
from apps.groups.needs import in_group_of_candidate
from apps.groups.rules import Action, require_adder_or_organiser
from apps.http.pages import page, page_of
from apps.http.views import View, no_content, person_of, versioned_response
from apps.viewings.api.gate_document_serializers import (
    GateDocumentBody,
    GateDocumentSerializer,
    GateDocumentsQuery,
)
from apps.viewings.api.media_views import FORM, UploadView, link_variant
from apps.viewings.media import selectors
from apps.viewings.media.document_models import GateDocument
from apps.viewings.media.gate_documents import gate_document_add, gate_document_remove


def remover(person: Person, named: Mapping[str, Any]) -> None:
    document = selectors.gate_document_for(person, named["gate_document_id"])
    require_adder_or_organiser(person, Action.ADD, document.group_id, document.added_by_id)


class GateDocumentsView(UploadView):
    scopes = {"GET": "lists:read", "POST": "lists:write"}
    needs = {"POST": in_group_of_candidate(Action.ADD)}
    query_serializer = GateDocumentsQuery
    largest_bytes = GateDocument.LARGEST_BYTES

    @extend_schema(operation_id="gate_documents_list", responses=page_of(GateDocumentSerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The documents of a boat's gates, or of one of them."""
        candidate = candidate_for(self.person, candidate_id)
        documents = selectors.gate_documents_visible(self.person).filter(candidate=candidate)
        documents = selectors.narrowed(documents, self.query, "gate")
        return page(request, documents, self.query, GateDocumentSerializer)

    @extend_schema(
        operation_id="gate_documents_create",
        request={FORM: GateDocumentBody},
        responses={201: GateDocumentSerializer, 200: GateDocumentSerializer},
    )
    def post(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Attach a picture of a paper, or a PDF, to one gate. It settles nothing by itself.

        A picture is made again without the camera's data, as photos are. A PDF is kept as it came:
        its own data, such as its author, stay in it, and it is never opened here.
        """
        document, is_new = gate_document_add(
            candidate=candidate_for(self.person, candidate_id),
            by=self.person,
            **self.read_body(GateDocumentBody),
        )
        return answer(request, document.pk, status=201 if is_new else 200)


class GateDocumentView(View):
    scopes = {"GET": "lists:read", "DELETE": "lists:write"}
    needs = {"DELETE": remover}

    @extend_schema(operation_id="gate_documents_read", responses=GateDocumentSerializer)
    def get(self, request: Request, gate_document_id: uuid.UUID) -> Response:
        """One document: its state, and links that work for a limited time."""
        return answer(request, gate_document_id)

    @extend_schema(operation_id="gate_documents_remove", request=None, responses={204: None})
    def delete(self, request: Request, gate_document_id: uuid.UUID) -> Response:
        """Remove a document that you added; an organiser can remove any."""
        document = selectors.gate_document_for(self.person, gate_document_id)
        gate_document_remove(
            document=document, by=self.person, expected_version=self.expected_version(document)
        )
        return no_content()


def answer(request: Request, document_id: uuid.UUID, *, status: int = 200) -> Response:
    document = selectors.gate_document_for(person_of(request), document_id)
    data = GateDocumentSerializer(document, context={"request": request}).data
    variant = link_variant(document, person_of(request))
    return versioned_response(document, data, status=status, variant=variant)
