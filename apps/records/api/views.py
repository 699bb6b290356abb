"""Views of a boat's record: translation only."""

import uuid

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.http.derived import as_file, derived
from apps.http.pages import PageQuery, page, page_of
from apps.http.renderers import CsvText, file_or_json
from apps.http.views import View
from apps.records.api.serializers import RecordDocumentSerializer, RecordEntrySerializer
from apps.records.exporting import record_csv, record_document
from apps.records.selectors import boat_record


class RecordView(View):
    scopes = {"GET": "lists:read"}
    query_serializer = PageQuery

    @extend_schema(operation_id="record_list", responses=page_of(RecordEntrySerializer))
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """Everything that happened to the boat and to her list: who, when, and what.

        Nothing in it is ever changed. Others' opinions are withheld while they are hidden from you,
        and so is what your token may not read: of these entries you get the digests.
        """
        record = boat_record(self.person, candidate_id)
        return page(
            request, record.entries, self.query, RecordEntrySerializer, reader=record.reader
        )


class RecordDocumentView(View):
    scopes = {"GET": "lists:read"}

    @extend_schema(operation_id="record_document", responses=RecordDocumentSerializer)
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The whole record, with how to check it without this service."""
        return derived(record_document(boat_record(self.person, candidate_id)))


class RecordTableView(View):
    scopes = {"GET": "lists:read"}
    renderer_classes = file_or_json(CsvText)

    @extend_schema(
        operation_id="record_csv", responses={(200, CsvText.media_type): OpenApiTypes.STR}
    )
    def get(self, request: Request, candidate_id: uuid.UUID) -> Response:
        """The record as a table (RFC 4180): a row for each entry."""
        table = record_csv(boat_record(self.person, candidate_id))
        return as_file(table, "text/csv; charset=utf-8", "record.csv")
