"""Signed links to archives' files, which work for a limited time without a token.

A link ends with the token that it was given to.
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
    """The end of links given out now, in seconds since 1970; the same for one period."""
    stretch = int(settings.ARCHIVE_LINK_LIFETIME.total_seconds())
    return (int(time.time()) // stretch + 2) * stretch


def download_link(request: Request | HttpRequest, export: Export) -> tuple[str, datetime]:
    """The download address of the file, and its end."""
    return _link(request, DOWNLOAD, export.pk, slot())


def upload_link(request: Request, opened: Import) -> tuple[str, datetime]:
    """The upload address of the file, and its end."""
    ends = int((opened.created_at + UPLOAD_WITHIN).timestamp())
    return _link(request, UPLOAD, opened.pk, ends)


def _link(
    request: Request | HttpRequest, name: str, pk: uuid.UUID, ends: int
) -> tuple[str, datetime]:
    token = Signer(salt=name).sign_object([str(pk), token_behind(person_of(request)), ends])
    address = request.build_absolute_uri(reverse(name, kwargs={"token": token}))
    return address, datetime.fromtimestamp(ends, UTC)


def export_behind(token: str) -> Export:
    """The export of a link. Raises 404 for an unknown or expired one."""
    ready = Export.objects.filter(state=Export.State.READY, expires_at__gt=timezone.now())
    return get_object_or_404(ready.select_related("asked_by"), pk=_id_in(token, DOWNLOAD))


def import_behind(token: str) -> Import:
    """The import of an upload link."""
    return get_object_or_404(Import.objects.select_related("asked_by"), pk=_id_in(token, UPLOAD))


def _id_in(token: str, name: str) -> str | None:
    try:
        pk, by, ends = Signer(salt=name).unsign_object(token)
    except (BadSignature, ValueError):
        return None
    return pk if time.time() < ends and token_lives(by) else None
