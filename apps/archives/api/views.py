"""Archives asked for and sent, and leaving for good: translation only."""

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
    """Its link is another one from time to time, and only for whoever asked for it."""
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
        """The archives of the group that its organisers asked for."""
        exports = selectors.exports_of_group(self.person, group_id)
        return page(request, exports, self.query, ExportSerializer)

    @extend_schema(
        operation_id="group_exports_create", request=None, responses={201: ExportSerializer}
    )
    def post(self, request: Request, group_id: uuid.UUID) -> Response:
        """Have all data of the group put into one archive; a job makes it.

        It holds what you may see. Where others' valuations, orders and calls are still hidden from
        you they are left out and counted: to have all of it, open the lists' opinions first.
        """
        export = services.group_export_ask(group_id=group_id, by=self.person)
        return export_response(request, export, 201)


class OwnExportsView(View):
    scopes = {"GET": "archives:manage", "POST": "archives:manage"}
    query_serializer = PageQuery

    @extend_schema(operation_id="own_exports_list", responses=page_of(ExportSerializer))
    def get(self, request: Request) -> Response:
        """The archives of your own data that you asked for."""
        return page(request, selectors.exports_of_self(self.person), self.query, ExportSerializer)

    @extend_schema(
        operation_id="own_exports_create", request=None, responses={201: ExportSerializer}
    )
    def post(self, request: Request) -> Response:
        """Have all that is kept of you put into one archive, drafts included; a job makes it."""
        return export_response(request, services.person_export_ask(by=self.person), 201)


class ExportView(View):
    scopes = {"GET": "archives:manage"}

    @extend_schema(operation_id="exports_read", responses=ExportSerializer)
    def get(self, request: Request, export_id: uuid.UUID) -> Response:
        """How an archive comes along, and a link to it once it is ready."""
        return export_response(request, selectors.export_for(self.person, export_id))


class ArchiveImportsView(View):
    scopes = {"GET": "archives:manage", "POST": "archives:manage"}
    query_serializer = PageQuery

    @extend_schema(operation_id="imports_list", responses=page_of(ImportSerializer))
    def get(self, request: Request) -> Response:
        """The archives that you sent, or were to send."""
        return page(request, selectors.imports_of(self.person), self.query, ImportSerializer)

    @extend_schema(
        operation_id="imports_create", request=ImportBody, responses={201: ImportSerializer}
    )
    def post(self, request: Request) -> Response:
        """Bring a group's archive in as a new group, with you as its organiser.

        PUT the file to the `upload` address of the answer; a job then reads it, and goes on after
        a crash. Everything is stored or nothing, and nobody sees it before all of it is
        there. People you share a group with are recognised by their email; the others
        stay as names.
        """
        opened = services.import_open(by=self.person, **self.read_body(ImportBody))
        return import_response(request, opened, 201)


class ImportView(View):
    scopes = {"GET": "archives:manage"}

    @extend_schema(operation_id="imports_read", responses=ImportSerializer)
    def get(self, request: Request, import_id: uuid.UUID) -> Response:
        """How an archive comes along: the new group, or why it was refused."""
        return import_response(request, selectors.import_for(self.person, import_id))


class DeletionsView(View):
    """A body with a password goes with a POST: what a DELETE carries, proxies may drop."""

    def sent(self, request: Request) -> bytes:
        return b""  # a digest of a password is not kept

    @extend_schema(operation_id="people_delete_me", request=DeletionBody, responses={204: None})
    def post(self, request: Request) -> Response:
        """Delete your account. It cannot be undone.

        Your name and email go, everything you are signed in with ends, your drafts are thrown
        away, and you belong to no group any more. What you found and said there stays on its
        record, without your name. Whoever is a group's last organiser, or a club's last
        secretary, hands that over first (409).
        """
        person_leave(
            person=self.person,
            password=self.read_body(DeletionBody)["password"],
            address=address_of(request),
        )
        return no_content()
