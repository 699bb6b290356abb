from celery import shared_task

from apps.http import retention


@shared_task
def prune() -> None:
    retention.idempotency_records_prune()
