"""Files go with their records, also where those go with a draft, a boat or a group."""

from typing import Any

from django.db.models.signals import post_delete

from apps.viewings.media.files import KINDS
from apps.viewings.media.models import Media
from apps.viewings.media.services import files_prune


def connect() -> None:
    for kind in KINDS:
        post_delete.connect(_on_delete, sender=kind, dispatch_uid=f"files of {kind.__name__}")


def _on_delete(*, instance: Media, **_: Any) -> None:
    files_prune(instance)
