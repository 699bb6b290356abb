"""The messages to webhooks, for the `webhooks` of the OpenAPI document."""

from typing import Any

from drf_spectacular.utils import OpenApiWebhook

from apps.events.webhooks.kinds import KINDS, TRIAL

UUID = {"type": "string", "format": "uuid"}

MESSAGE: dict[str, Any] = {
    "type": "object",
    "required": ["type", "timestamp", "data"],
    "properties": {
        "type": {
            "type": "string",
            "description": "what happened; later versions may have more kinds\n\n"
            + "\n".join(f"* `{kind}` - {meaning}" for kind, meaning in KINDS.items())
            + f"\n* `{TRIAL}` - a trial, to test whether messages arrive",
            "examples": ["results.ready"],
        },
        "timestamp": {"type": "string", "format": "date-time", "description": "when it happened"},
        "data": {
            "type": "object",
            "description": "The same as the change feed says; a trial names only the webhook.",
            "required": ["group"],
            "properties": {
                "group": UUID,
                "number": {"type": "integer", "description": "its number in the group's order"},
                "thing": {"type": "string", "description": "the kind of record, e.g. candidate"},
                "thing_id": UUID,
                "thing_version": {"type": "integer"},
                "deleted": {"type": "boolean"},
                "by": {**UUID, "type": ["string", "null"], "description": "a person"},
                "facts": {"type": "object", "description": "more about this kind"},
                "webhook": {**UUID, "description": "in a trial: the tested one"},
            },
        },
    },
}

message = OpenApiWebhook(
    name="message",
    decorator={
        "post": {
            "operationId": "messages_receive",
            "summary": "Something happened in a group",
            "tags": ["Programs"],
            "security": [],
            "description": (
                "Sent to each webhook that wants to know of it, signed by the Standard Webhooks "
                "specification (headers webhook-id, webhook-timestamp, webhook-signature). It may "
                "come twice, with the same webhook-id."
            ),
            "requestBody": {"required": True, "content": {"application/json": {"schema": MESSAGE}}},
            "responses": {
                "2XX": {"description": "The receiver accepted it."},
                "410": {
                    "description": "The receiver wants no more messages: the webhook is stopped."
                },
                "default": {"description": "It is sent again later, for three days."},
            },
        }
    },
)
