import uuid

from celery import shared_task

from apps.common.processes.broker import broker
from apps.events import retention
from apps.events.webhooks import sending
from apps.jobs.leases import swept


@shared_task
def deliver(webhook_id: str) -> None:
    sending.webhook_send(webhook_id=uuid.UUID(webhook_id))


@shared_task
def sweep_deliveries() -> None:
    """Send lost tasks again, so that every delivery is tried even if its message was lost."""
    for webhook_id in swept(sending.webhooks_due().order_by("attempts", "pk")):
        broker.send("apps.events.tasks.deliver", str(webhook_id))


@shared_task
def prune() -> None:
    retention.events_prune()
    retention.deliveries_prune()
