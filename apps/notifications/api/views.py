"""Views of the inbox and its settings."""

import uuid
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.http.pages import page
from apps.http.views import View, versioned_response
from apps.notifications import selectors, services
from apps.notifications.api.serializers import (
    ConfirmationSerializer,
    GroupChoiceBody,
    GroupChoiceSerializer,
    InboxBody,
    InboxSerializer,
    MarkedSerializer,
    MarksBody,
    NotificationMarkBody,
    NotificationPageSerializer,
    NotificationSerializer,
    NotificationsQuery,
)
from apps.notifications.sentences.table import CAUTION


class NotificationsView(View):
    scopes = {"GET": "notifications:read"}
    query_serializer = NotificationsQuery

    @extend_schema(operation_id="notifications_list", responses=NotificationPageSerializer)
    def get(self, request: Request) -> Response:
        """What waits for you, what changed, and where you and others disagree.

        Several changes to one record are one notification while you have not seen it. A
        notification that no longer applies, for example about an answered question, disappears. A
        limited token shows only notifications about records that its other scopes may read.
        """
        chosen: dict[str, Any] = {
            name: self.query.get(name) for name in ("kind", "group", "read", "open")
        }
        # Read before the rows, so that a notification that arrives in between is never marked.
        last = selectors.inbox_of(self.person).last
        answer = page(
            request,
            selectors.notifications_of(self.person, **chosen),
            self.query,
            NotificationSerializer,
        )
        answer.data |= {
            "unread": selectors.unread_count(self.person),
            "last": last,
            "caution": CAUTION,
        }
        return answer


class NotificationView(View):
    scopes = {"GET": "notifications:read", "PATCH": "notifications:manage"}

    @extend_schema(operation_id="notifications_read", responses=NotificationSerializer)
    def get(self, request: Request, notification_id: uuid.UUID) -> Response:
        """One notification. Reading it here does not mark it as read."""
        notification = selectors.notification_for(self.person, notification_id)
        return versioned_response(
            notification, NotificationSerializer(notification, context={"request": request}).data
        )

    @extend_schema(
        operation_id="notifications_mark",
        request=NotificationMarkBody,
        responses=NotificationSerializer,
    )
    def patch(self, request: Request, notification_id: uuid.UUID) -> Response:
        """Mark it as read or done, or undo that.

        The answer is 412 if something was added to it since you read it.
        """
        notification = selectors.notification_for(self.person, notification_id)
        notification = services.notification_mark(
            notification=notification,
            expected_version=self.expected_version(notification),
            **self.read_body(NotificationMarkBody),
        )
        return versioned_response(
            notification, NotificationSerializer(notification, context={"request": request}).data
        )


class MarksView(View):
    scopes = {"POST": "notifications:manage"}

    @extend_schema(
        operation_id="notifications_mark_all", request=MarksBody, responses=MarkedSerializer
    )
    def post(self, request: Request) -> Response:
        """Mark all open notifications up to a point as read, or as done; later ones stay as they
        are.
        """
        marked = services.notifications_mark(person=self.person, **self.read_body(MarksBody))
        unread = selectors.unread_count(self.person)
        return Response(MarkedSerializer({"marked": marked, "unread": unread}).data)


class InboxView(View):
    scopes = {"GET": "notifications:manage", "PATCH": "notifications:manage"}

    @extend_schema(operation_id="notification_settings_read", responses=InboxSerializer)
    def get(self, request: Request) -> Response:
        """The notifications that you get, and how they are mailed to you."""
        inbox = selectors.inbox_of(self.person)
        return versioned_response(inbox, InboxSerializer(inbox).data)

    @extend_schema(
        operation_id="notification_settings_change", request=InboxBody, responses=InboxSerializer
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
        operation_id="notification_confirmations_create",
        request=None,
        responses={201: ConfirmationSerializer},
    )
    def post(self, request: Request) -> Response:
        """Send a mail to your address, with a link that confirms it; at most once an hour.

        An unconfirmed address gets no other mail.
        """
        digest = services.confirmation_ask(person=self.person)
        return Response(ConfirmationSerializer(digest).data, status=201)


class GroupChoiceView(View):
    scopes = {"GET": "notifications:manage", "PATCH": "notifications:manage"}

    @extend_schema(operation_id="group_notification_settings_read", responses=GroupChoiceSerializer)
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """Your settings for this group; null means the general setting."""
        choice = selectors.choice_for(self.person, group_id)
        return versioned_response(choice, GroupChoiceSerializer(choice).data)

    @extend_schema(
        operation_id="group_notification_settings_change",
        request=GroupChoiceBody,
        responses=GroupChoiceSerializer,
    )
    def patch(self, request: Request, group_id: uuid.UUID) -> Response:
        """Change your settings for this group; null restores the general setting."""
        expected = self.expected_version(selectors.choice_for(self.person, group_id))
        choice = services.choice_change(
            person=self.person,
            group_id=group_id,
            expected_version=expected,
            facts=self.read_body(GroupChoiceBody),
        )
        return versioned_response(choice, GroupChoiceSerializer(choice).data)
