"""Views of exports, imports and leaving for good."""

import uuid

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.accounts.selectors import token_word
from apps.archives import links, selectors, services
from apps.archives.api.serializers import (
    DeletionBody,
    ExportSerializer,
    ImportBody,
    ImportSerializer,
)
from apps.archives.leaving import person_leave
from apps.archives.models import Export, Import
from apps.groups.needs import in_group
from apps.groups.rules import Action
from apps.http.limits import address_of
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, no_content, person_of, versioned_response


def export_response(request: Request, export: Export, status: int = 200) -> Response:
    """An export as an answer; its link changes over time and is only for the person who asked."""
    data = ExportSerializer(export, context={"request": request}).data
    variant = f"{links.slot()}{token_word(person_of(request))}" if data["download"] else ""
    return versioned_response(export, data, status=status, variant=variant)


def import_response(request: Request, opened: Import, status: int = 200) -> Response:
    data = ImportSerializer(opened, context={"request": request}).data
    return versioned_response(opened, data, status=status, variant=token_word(person_of(request)))


class GroupExportsView(View):
    scopes = {"GET": "archives:manage", "POST": "archives:manage"}
    needs = {"POST": in_group(Action.MANAGE)}
    query_serializer = PageQuery

    @extend_schema(operation_id="group_exports_list", responses=page_of(ExportSerializer))
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """The group's exports."""
        exports = selectors.exports_of_group(self.person, group_id)
        return page(request, exports, self.query, ExportSerializer)

    @extend_schema(
        operation_id="group_exports_create", request=None, responses={201: ExportSerializer}
    )
    def post(self, request: Request, group_id: uuid.UUID) -> Response:
        """Export all data of the group as one archive; a job makes it.

        It has what you may see. Others' valuations, orders and votes that are still hidden from you
        are left out and counted: to get all of them, open the lists' opinions first.
        """
        export = services.group_export_ask(group_id=group_id, by=self.person)
        return export_response(request, export, 201)


class OwnExportsView(View):
    scopes = {"GET": "archives:manage", "POST": "archives:manage"}
    query_serializer = PageQuery

    @extend_schema(operation_id="own_exports_list", responses=page_of(ExportSerializer))
    def get(self, request: Request) -> Response:
        """Your exports of your own data."""
        return page(request, selectors.exports_of_self(self.person), self.query, ExportSerializer)

    @extend_schema(
        operation_id="own_exports_create", request=None, responses={201: ExportSerializer}
    )
    def post(self, request: Request) -> Response:
        """Export everything stored about you as one archive, including drafts; a job makes it."""
        return export_response(request, services.person_export_ask(by=self.person), 201)


class ExportView(View):
    scopes = {"GET": "archives:manage"}

    @extend_schema(operation_id="exports_read", responses=ExportSerializer)
    def get(self, request: Request, export_id: uuid.UUID) -> Response:
        """The state of an export, and its link once it is ready."""
        return export_response(request, selectors.export_for(self.person, export_id))


class ArchiveImportsView(View):
    scopes = {"GET": "archives:manage", "POST": "archives:manage"}
    query_serializer = PageQuery

    @extend_schema(operation_id="imports_list", responses=page_of(ImportSerializer))
    def get(self, request: Request) -> Response:
        """Your imports, with or without their file."""
        return page(request, selectors.imports_of(self.person), self.query, ImportSerializer)

    @extend_schema(
        operation_id="imports_create", request=ImportBody, responses={201: ImportSerializer}
    )
    def post(self, request: Request) -> Response:
        """Import a group's archive as a new group, with you as its organiser.

        PUT the file to the `upload` address of the answer; a job then reads it, and continues after
        a crash. Everything is stored or nothing, and nobody sees the group before it is complete.
        People you share a group with are recognised by their email; the others stay as names.
        """
        opened = services.import_open(by=self.person, **self.read_body(ImportBody))
        return import_response(request, opened, 201)


class ImportView(View):
    scopes = {"GET": "archives:manage"}

    @extend_schema(operation_id="imports_read", responses=ImportSerializer)
    def get(self, request: Request, import_id: uuid.UUID) -> Response:
        """The state of an import: the new group, or why it was refused."""
        return import_response(request, selectors.import_for(self.person, import_id))


class DeletionsView(View):
    """Deletion by POST, because it has a password and proxies may drop the body of a DELETE."""

    def sent(self, request: Request) -> bytes:
        return b""  # so that no digest of a password is stored

    @extend_schema(operation_id="people_delete_me", request=DeletionBody, responses={204: None})
    def post(self, request: Request) -> Response:
        """Delete your account. It cannot be undone.

        Your name, email and drafts are deleted, all your sessions and tokens end, and you leave all
        groups. Your findings and opinions stay on the groups' record, without your name. The last
        organiser of a group, or the last secretary of a club, must hand over first (409).
        """
        person_leave(
            person=self.person,
            password=self.read_body(DeletionBody)["password"],
            address=address_of(request),
        )
        return no_content()
