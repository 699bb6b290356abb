import logging
import uuid

from celery import shared_task

from apps.viewings.media import files, preparing

log = logging.getLogger(__name__)


@shared_task
def prepare_photo(photo_id: str) -> None:
    preparing.photo_prepare(photo_id=uuid.UUID(photo_id))


@shared_task
def prepare_seller_photo(photo_id: str) -> None:
    preparing.seller_photo_prepare(photo_id=uuid.UUID(photo_id))


@shared_task
def prepare_gate_document(document_id: str) -> None:
    preparing.gate_document_prepare(document_id=uuid.UUID(document_id))


@shared_task
def prepare_sound(sound_id: str) -> None:
    preparing.sound_prepare(sound_id=uuid.UUID(sound_id))


@shared_task
def sweep_media() -> None:
    preparing.media_sweep()


@shared_task
def sweep_files() -> None:
    try:
        files.files_sweep()
    except files.TooManyOrphans:
        log.exception("the sweep of files refused")
