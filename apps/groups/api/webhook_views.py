"""Views of a group's webhooks and the messages sent to them."""

import uuid
from datetime import timedelta

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from apps.events.models import Webhook
from apps.events.webhooks import services
from apps.groups import webhooks
from apps.groups.api.webhook_serializers import (
    DeliveriesQuery,
    DeliverySerializer,
    NewWebhookSerializer,
    RotationBody,
    WebhookBody,
    WebhookChangeBody,
    WebhookSerializer,
)
from apps.groups.needs import in_group, in_group_of_delivery, in_group_of_webhook
from apps.groups.rules import Action
from apps.http.pages import PageQuery, page, page_of
from apps.http.views import View, no_content, versioned_response


class WebhooksView(View):
    scopes = {"GET": "group:manage", "POST": "group:manage"}
    needs = {"POST": in_group(Action.MANAGE)}
    secret_fields = ("secret",)
    query_serializer = PageQuery

    @extend_schema(operation_id="webhooks_list", responses=page_of(WebhookSerializer))
    def get(self, request: Request, group_id: uuid.UUID) -> Response:
        """The group's webhooks. Only for organisers."""
        found = webhooks.webhooks_of(self.person, group_id)
        return page(request, found, self.query, WebhookSerializer)

    @extend_schema(
        operation_id="webhooks_create", request=WebhookBody, responses={201: NewWebhookSerializer}
    )
    def post(self, request: Request, group_id: uuid.UUID) -> Response:
        """Send events of the group to an address of yours, signed with the secret in the answer.

        Messages and signatures follow the Standard Webhooks specification: check each with the
        secret, and answer with a 2xx status within a few seconds. Failed messages are sent again
        for three days. A message says what happened; read the record itself by the API.
        """
        body = self.read_body(WebhookBody)
        webhooks.webhooks_of(self.person, group_id)
        webhook, secret = services.webhook_create(group_id=group_id, by_id=self.person.pk, **body)
        return secret_response(webhook, secret)


def secret_response(webhook: Webhook, secret: str) -> Response:
    return versioned_response(
        webhook, {**WebhookSerializer(webhook).data, "secret": secret}, status=201
    )


class WebhookView(View):
    scopes = {"GET": "group:manage", "PATCH": "group:manage", "DELETE": "group:manage"}

    @extend_schema(operation_id="webhooks_read", responses=WebhookSerializer)
    def get(self, request: Request, webhook_id: uuid.UUID) -> Response:
        """One webhook, and the state of its deliveries."""
        webhook = webhooks.webhook_for(self.person, webhook_id)
        return versioned_response(webhook, WebhookSerializer(webhook).data)

    @extend_schema(
        operation_id="webhooks_change", request=WebhookChangeBody, responses=WebhookSerializer
    )
    def patch(self, request: Request, webhook_id: uuid.UUID) -> Response:
        """Change the address or the kinds of events, or stop and start it."""
        webhook = webhooks.webhook_for(self.person, webhook_id)
        services.webhook_change(
            webhook=webhook,
            by_id=self.person.pk,
            expected_version=self.expected_version(webhook),
            facts=self.read_body(WebhookChangeBody),
        )
        return versioned_response(webhook, WebhookSerializer(webhook).data)

    @extend_schema(operation_id="webhooks_delete", request=None, responses={204: None})
    def delete(self, request: Request, webhook_id: uuid.UUID) -> Response:
        """Delete it, with its waiting messages."""
        webhook = webhooks.webhook_for(self.person, webhook_id)
        services.webhook_delete(
            webhook=webhook,
            by_id=self.person.pk,
            expected_version=self.expected_version(webhook),
        )
        return no_content()


class RotationsView(View):
    scopes = {"POST": "group:manage"}
    needs = {"POST": in_group_of_webhook(Action.MANAGE)}
    secret_fields = ("secret",)

    @extend_schema(
        operation_id="webhooks_rotate_secret",
        request=RotationBody,
        responses={201: NewWebhookSerializer},
    )
    def post(self, request: Request, webhook_id: uuid.UUID) -> Response:
        """Make a new secret. The old one signs beside it for a while, so no message is refused."""
        webhook = webhooks.webhook_for(self.person, webhook_id)
        keep_old = timedelta(hours=self.read_body(RotationBody)["keep_old_hours"])
        secret = services.secret_rotate(webhook=webhook, by_id=self.person.pk, keep_old=keep_old)
        return secret_response(webhook, secret)


class TrialsView(View):
    scopes = {"POST": "group:manage"}
    needs = {"POST": in_group_of_webhook(Action.MANAGE)}

    @extend_schema(operation_id="webhooks_try", request=None, responses={201: DeliverySerializer})
    def post(self, request: Request, webhook_id: uuid.UUID) -> Response:
        """Send a message of the kind `webhook.trial`; read the delivery for its result."""
        webhook = webhooks.webhook_for(self.person, webhook_id)
        delivery = services.trial_send(webhook=webhook)
        return Response(DeliverySerializer(delivery).data, status=201)


class DeliveriesView(View):
    scopes = {"GET": "group:manage"}
    query_serializer = DeliveriesQuery

    @extend_schema(operation_id="deliveries_list", responses=page_of(DeliverySerializer))
    def get(self, request: Request, webhook_id: uuid.UUID) -> Response:
        """Messages to this webhook, each with every attempt to send it."""
        found = webhooks.deliveries_of(self.person, webhook_id, self.query.get("state"))
        return page(request, found, self.query, DeliverySerializer)


class DeliveryView(View):
    scopes = {"GET": "group:manage"}

    @extend_schema(operation_id="deliveries_read", responses=DeliverySerializer)
    def get(self, request: Request, delivery_id: uuid.UUID) -> Response:
        """One message, with every attempt to send it."""
        delivery = webhooks.delivery_for(self.person, delivery_id)
        return Response(DeliverySerializer(delivery).data)


class ResendsView(View):
    scopes = {"POST": "group:manage"}
    needs = {"POST": in_group_of_delivery(Action.MANAGE)}

    @extend_schema(
        operation_id="deliveries_resend", request=None, responses={201: DeliverySerializer}
    )
    def post(self, request: Request, delivery_id: uuid.UUID) -> Response:
        """Send it again under the same id, by which a receiver recognises a repeat."""
        delivery = webhooks.delivery_for(self.person, delivery_id)
        services.delivery_resend(delivery=delivery)
        return Response(DeliverySerializer(delivery).data, status=201)
