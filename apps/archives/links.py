"""Addresses of archives' files that are good for a while, to be opened without a token.

They end with the token by which they were given.
"""

import time
import uuid
from datetime import UTC, datetime

from django.conf import settings
from django.core.signing import BadSignature, Signer
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from rest_framework.request import Request

from apps.accounts.selectors import token_behind, token_lives
from apps.archives.models import Export, Import
from apps.archives.services import UPLOAD_WITHIN
from apps.http.views import person_of

DOWNLOAD, UPLOAD = "archive-download", "archive-upload"  # names of the addresses


def slot() -> int:
    """Seconds since 1970 at which links given out now end; the same for a stretch of time."""
    stretch = int(settings.ARCHIVE_LINK_LIFETIME.total_seconds())
    return (int(time.time()) // stretch + 2) * stretch


def download_link(request: Request | HttpRequest, export: Export) -> tuple[str, datetime]:
    """Where to fetch the file, and until when."""
    return _link(request, DOWNLOAD, export.pk, slot())


def upload_link(request: Request, opened: Import) -> tuple[str, datetime]:
    """Where to send the file, and until when."""
    ends = int((opened.created_at + UPLOAD_WITHIN).timestamp())
    return _link(request, UPLOAD, opened.pk, ends)


def _link(
    request: Request | HttpRequest, name: str, pk: uuid.UUID, ends: int
) -> tuple[str, datetime]:
    token = Signer(salt=name).sign_object([str(pk), token_behind(person_of(request)), ends])
    address = request.build_absolute_uri(reverse(name, kwargs={"token": token}))
    return address, datetime.fromtimestamp(ends, UTC)


def export_behind(token: str) -> Export:
    """Raises 404 for a link that is unknown or was good once."""
    ready = Export.objects.filter(state=Export.State.READY, expires_at__gt=timezone.now())
    return get_object_or_404(ready.select_related("asked_by"), pk=_id_in(token, DOWNLOAD))


def import_behind(token: str) -> Import:
    """The same for a place to send a file to."""
    return get_object_or_404(Import.objects.select_related("asked_by"), pk=_id_in(token, UPLOAD))


def _id_in(token: str, name: str) -> str | None:
    try:
        pk, by, ends = Signer(salt=name).unsign_object(token)
    except (BadSignature, ValueError):
        return None
    return pk if time.time() < ends and token_lives(by) else None
