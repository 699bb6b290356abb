"""Webhooks of a group, for its organisers. `events.webhooks` sends the messages."""

import uuid

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from apps.accounts.models import Person
from apps.events.models import Delivery, Webhook
from apps.groups.rules import Action, require, visible_groups


def webhooks_of(person: Person, group_id: uuid.UUID) -> QuerySet[Webhook]:
    """The webhooks of a group that the person manages."""
    require(person, Action.MANAGE, group_id)
    return Webhook.objects.filter(group=group_id)


def webhook_for(person: Person, webhook_id: uuid.UUID) -> Webhook:
    webhook = get_object_or_404(
        Webhook.objects.filter(group__in=visible_groups(person).values("pk")), pk=webhook_id
    )
    require(person, Action.MANAGE, webhook.group)
    return webhook


def deliveries_of(
    person: Person, webhook_id: uuid.UUID, state: str | None = None
) -> QuerySet[Delivery]:
    webhook = webhook_for(person, webhook_id)
    deliveries = webhook.deliveries.prefetch_related("attempts")
    return deliveries if state is None else deliveries.filter(state=state)


def delivery_for(person: Person, delivery_id: uuid.UUID) -> Delivery:
    delivery = get_object_or_404(
        Delivery.objects.filter(webhook__group__in=visible_groups(person).values("pk"))
        .select_related("webhook")
        .prefetch_related("attempts"),
        pk=delivery_id,
    )
    require(person, Action.MANAGE, delivery.webhook.group)
    return delivery
