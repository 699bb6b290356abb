import uuid

from celery import shared_task

from apps.common.processes.broker import broker
from apps.jobs.leases import MOST_SWEPT
from apps.notifications import jobs, retention
from apps.notifications.mail import mailing

NOTIFY = "apps.notifications.tasks.notify_group"


@shared_task
def notify_group(group_id: str) -> None:
    if jobs.group_notify(group_id=uuid.UUID(group_id)) == jobs.MOST_ROUNDS:
        broker.send(NOTIFY, group_id)  # to the end of the queue, after the other groups


@shared_task
def sweep_notifications() -> None:
    """Send tasks for groups with unprocessed events."""
    behind = jobs.groups_behind().order_by("group").values_list("group", flat=True)
    for group_id in behind[:MOST_SWEPT]:
        broker.send(NOTIFY, str(group_id))


@shared_task
def send_digests() -> None:
    mailing.digests_doubt()
    mailing.digests_send()


@shared_task
def prune_notifications() -> None:
    retention.notifications_prune()
    retention.digests_prune()
