import json
from typing import Any

from rest_framework import serializers

from apps.events.models import Attempt, Delivery, Webhook
from apps.events.webhooks.kinds import KINDS
from apps.events.webhooks.targets import LONGEST_URL
from apps.http.bodies import StrictBody
from apps.http.pages import PageQuery
from apps.http.views import ClientIdMixin

KIND_CHOICES = list(KINDS.items())


class WebhookSerializer(serializers.ModelSerializer[Webhook]):
    group = serializers.UUIDField()
    kinds = serializers.ListField(
        child=serializers.CharField(), help_text="kinds of events it gets; empty: all"
    )

    failures = serializers.IntegerField(source="attempts", required=False, help_text="in a row")
    resting_until = serializers.DateTimeField(
        source="next_attempt_at", required=False, allow_null=True
    )

    class Meta:
        model = Webhook
        fields: tuple[str, ...] = (
            "id",
            "version",
            "group",
            "url",
            "note",
            "kinds",
            "enabled",
            "stopped_because",
            "old_secret_until",
            "last_success_at",
            "failures",
            "resting_until",
            "created_at",
            "updated_at",
        )


class NewWebhookSerializer(WebhookSerializer):
    secret = serializers.CharField(
        allow_null=True, help_text="to check signatures with; shown once: null in a repeat"
    )

    class Meta(WebhookSerializer.Meta):
        fields = (*WebhookSerializer.Meta.fields, "secret")


class WebhookFields(StrictBody):
    url = serializers.CharField(
        max_length=LONGEST_URL, help_text="https:// address; private addresses get nothing"
    )
    note = serializers.CharField(
        max_length=200, required=False, allow_blank=True, help_text="what it is for"
    )
    kinds = serializers.ListField(
        child=serializers.ChoiceField(KIND_CHOICES),
        required=False,
        max_length=len(KINDS),
        help_text="kinds of events to get; left out or empty: all, also later ones",
    )


class WebhookBody(ClientIdMixin, WebhookFields):
    pass


class WebhookChangeBody(WebhookFields):
    """Only the fields sent change."""

    url = serializers.CharField(max_length=LONGEST_URL, required=False)
    enabled = serializers.BooleanField(
        required=False, help_text="stopped, it gets no messages, and waiting ones fail"
    )

    def validate(self, facts: dict[str, Any]) -> dict[str, Any]:
        if not facts:
            raise serializers.ValidationError("Send at least one field.", code="empty")
        return facts


class RotationBody(StrictBody):
    keep_old_hours = serializers.IntegerField(
        default=24,
        min_value=0,
        max_value=168,
        help_text="how long the old secret signs beside the new one; 0 if others know it",
    )


class AttemptSerializer(serializers.ModelSerializer[Attempt]):
    class Meta:
        model = Attempt
        fields = ("at", "status", "error", "seconds")


class DeliverySerializer(serializers.ModelSerializer[Delivery]):
    message = serializers.SerializerMethodField(help_text="the body that is sent")
    attempts = AttemptSerializer(many=True)

    class Meta:
        model = Delivery
        fields = (
            "id",
            "webhook",
            "kind",
            "state",
            "tries",
            "due_at",
            "delivered_at",
            "created_at",
            "message",
            "attempts",
        )

    def get_message(self, delivery: Delivery) -> dict[str, Any]:
        message: dict[str, Any] = json.loads(delivery.body)
        return message


class DeliveriesQuery(PageQuery):
    state = serializers.ChoiceField(
        Delivery.State.choices, required=False, help_text="only those in this state"
    )
