"""What the owners agree: translation only."""

import uuid

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.groups.needs import in_group
from apps.groups.rules import Action
from apps.http.derived import as_file, derived
from apps.http.renderers import PlainText, file_or_json
from apps.http.views import View, versioned_response
from apps.ownership.agreement import selectors, services
from apps.ownership.agreement.text import sheet_text
from apps.ownership.agreement.topics import NO_LEGAL_ADVICE
from apps.ownership.api.agreement_serializers import (
    ClauseSerializer,
    ConsentBody,
    ConsentSerializer,
    SheetSerializer,
    WordingBody,
)


class AgreementView(View):
    scopes = {"GET": "ownership:read"}

    @extend_schema(operation_id="agreement_read", responses=SheetSerializer)
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """What to agree before money moves, topic by topic, and who agreed to which wording when.

        Only for organisers and buyers. No legal advice.
        """
        sheet = selectors.sheet_of(self.person, group_id)
        answer = {
            "caution": NO_LEGAL_ADVICE,
            "buyers": sheet.buyers,
            "agreed": sheet.agreed,
            "topics": sheet.topics,
        }
        return derived(SheetSerializer(answer).data)


class AgreementTextView(View):
    scopes = {"GET": "ownership:read"}
    renderer_classes = file_or_json(PlainText)

    @extend_schema(
        operation_id="agreement_text", responses={(200, PlainText.media_type): OpenApiTypes.STR}
    )
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """The sheet as plain text, to send to a lawyer."""
        text = sheet_text(selectors.sheet_of(self.person, group_id))
        return as_file(text, "text/plain; charset=utf-8", "agreement.txt")


class ClauseView(View):
    put_makes = True
    scopes = {"GET": "ownership:read", "PUT": "ownership:write"}
    needs = {"PUT": in_group(Action.ACCOUNT)}

    @extend_schema(operation_id="clauses_read", responses=ClauseSerializer)
    def get(self, request: Request, group_id: uuid.UUID, topic: str) -> Response:
        """One topic in the group's own words, with all wordings; 404 until somebody wrote one."""
        clause = selectors.clause_of(self.person, group_id, topic)
        return versioned_response(clause.clause, ClauseSerializer(clause).data)

    @extend_schema(
        operation_id="clauses_word",
        request=WordingBody,
        responses={200: ClauseSerializer, 201: ClauseSerializer},
    )
    def put(self, request: Request, group_id: uuid.UUID, topic: str) -> Response:
        """Word a topic, or word it anew: then everybody has to agree again.

        Earlier wordings stay, with who agreed to them.
        """
        group, known = selectors.clause_if_any(self.person, group_id, topic)
        services.clause_word(
            group=group,
            topic=topic,
            by=self.person,
            expected_version=self.expected_of(known),
            **self.read_body(WordingBody),
        )
        clause = selectors.clause_of(self.person, group_id, topic)
        status = 201 if known is None else 200
        return versioned_response(clause.clause, ClauseSerializer(clause).data, status=status)


class ConsentsView(View):
    scopes = {"POST": "ownership:write"}
    needs = {"POST": in_group(Action.OPINE)}

    @extend_schema(
        operation_id="consents_give", request=ConsentBody, responses={201: ConsentSerializer}
    )
    def post(self, request: Request, group_id: uuid.UUID, topic: str) -> Response:
        """Agree to the wording that holds. Only for those who buy.

        It cannot be taken back: whoever thinks otherwise words the topic anew.
        """
        consent = services.consent_give(
            clause=selectors.clause_of(self.person, group_id, topic).clause,
            by=self.person,
            **self.read_body(ConsentBody),
        )
        return versioned_response(consent, ConsentSerializer(consent).data, status=201)
