import uuid

from celery import shared_task

from apps.archives import jobs


@shared_task
def make_export(export_id: str) -> None:
    jobs.export_make(export_id=uuid.UUID(export_id))


@shared_task
def run_import(import_id: str) -> None:
    jobs.import_run(import_id=uuid.UUID(import_id))


@shared_task
def sweep_archives() -> None:
    jobs.sweep()
