"""The inbox, and what a person chose about it."""

import uuid
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.http.pages import page
from apps.http.views import View, versioned_response
from apps.notices import selectors, services
from apps.notices.api.serializers import (
    ConfirmationSerializer,
    GroupChoiceBody,
    GroupChoiceSerializer,
    InboxBody,
    InboxSerializer,
    MarkedSerializer,
    MarksBody,
    NoticeMarkBody,
    NoticePageSerializer,
    NoticeSerializer,
    NoticesQuery,
)
from apps.notices.sentences import CAUTION


class NoticesView(View):
    scopes = {"GET": "notices:read"}
    query_serializer = NoticesQuery

    @extend_schema(operation_id="notices_list", responses=NoticePageSerializer)
    def get(self, request: Request) -> Response:
        """What waits for you, changed under you, or is to be settled between you and others.

        Many changes to one thing are one notice while you have not seen it. What ceases to be so,
        a question answered for instance, goes by itself. A limited token shows only notices of
        what its other scopes open.
        """
        chosen: dict[str, Any] = {
            name: self.query.get(name) for name in ("kind", "group", "read", "open")
        }
        # Before the rows: nothing that comes in between is ever marked unseen.
        last = selectors.inbox_of(self.person).last
        answer = page(
            request, selectors.notices_of(self.person, **chosen), self.query, NoticeSerializer
        )
        answer.data |= {
            "unread": selectors.unread_count(self.person),
            "last": last,
            "caution": CAUTION,
        }
        return answer


class NoticeView(View):
    scopes = {"GET": "notices:read", "PATCH": "notices:manage"}

    @extend_schema(operation_id="notices_read", responses=NoticeSerializer)
    def get(self, request: Request, notice_id: uuid.UUID) -> Response:
        """One notice. Reading it here does not mark it as read."""
        notice = selectors.notice_for(self.person, notice_id)
        return versioned_response(
            notice, NoticeSerializer(notice, context={"request": request}).data
        )

    @extend_schema(operation_id="notices_mark", request=NoticeMarkBody, responses=NoticeSerializer)
    def patch(self, request: Request, notice_id: uuid.UUID) -> Response:
        """Mark it as read or done, or take that back.

        Refused by 412 if something was added to it since you read it.
        """
        notice = selectors.notice_for(self.person, notice_id)
        notice = services.notice_mark(
            notice=notice,
            expected_version=self.expected_version(notice),
            **self.read_body(NoticeMarkBody),
        )
        return versioned_response(
            notice, NoticeSerializer(notice, context={"request": request}).data
        )


class MarksView(View):
    scopes = {"POST": "notices:manage"}

    @extend_schema(operation_id="notices_mark_all", request=MarksBody, responses=MarkedSerializer)
    def post(self, request: Request) -> Response:
        """Mark all open notices up to a point as read, or as done; later ones stay as they are."""
        marked = services.notices_mark(person=self.person, **self.read_body(MarksBody))
        unread = selectors.unread_count(self.person)
        return Response(MarkedSerializer({"marked": marked, "unread": unread}).data)


class InboxView(View):
    scopes = {"GET": "notices:manage", "PATCH": "notices:manage"}

    @extend_schema(operation_id="notice_settings_read", responses=InboxSerializer)
    def get(self, request: Request) -> Response:
        """Which notices you get, and how they are mailed to you."""
        inbox = selectors.inbox_of(self.person)
        return versioned_response(inbox, InboxSerializer(inbox).data)

    @extend_schema(
        operation_id="notice_settings_change", request=InboxBody, responses=InboxSerializer
    )
    def patch(self, request: Request) -> Response:
        """Choose kinds, how often digests come, and at which hour of your clock."""
        expected = self.expected_version(selectors.inbox_of(self.person))
        inbox = services.inbox_change(
            person=self.person, expected_version=expected, facts=self.read_body(InboxBody)
        )
        return versioned_response(inbox, InboxSerializer(inbox).data)


class ConfirmationsView(View):
    @extend_schema(
        operation_id="notice_confirmations_create",
        request=None,
        responses={201: ConfirmationSerializer},
    )
    def post(self, request: Request) -> Response:
        """Have a mail sent to your address, with a link that confirms it; once an hour at most.

        Nothing else is mailed to an address that was not confirmed.
        """
        letter = services.confirmation_ask(person=self.person)
        return Response(ConfirmationSerializer(letter).data, status=201)


class GroupChoiceView(View):
    scopes = {"GET": "notices:manage", "PATCH": "notices:manage"}

    @extend_schema(operation_id="group_notice_settings_read", responses=GroupChoiceSerializer)
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """What you want otherwise for this group; null is as in general."""
        choice = selectors.choice_for(self.person, group_id)
        return versioned_response(choice, GroupChoiceSerializer(choice).data)

    @extend_schema(
        operation_id="group_notice_settings_change",
        request=GroupChoiceBody,
        responses=GroupChoiceSerializer,
    )
    def patch(self, request: Request, group_id: uuid.UUID) -> Response:
        """Choose otherwise for this group, or null to have it as in general again."""
        expected = self.expected_version(selectors.choice_for(self.person, group_id))
        choice = services.choice_change(
            person=self.person,
            group_id=group_id,
            expected_version=expected,
            facts=self.read_body(GroupChoiceBody),
        )
        return versioned_response(choice, GroupChoiceSerializer(choice).data)
