"""Addresses of archives' files that are good for a short while, to be opened without a token."""

import uuid
from datetime import datetime, timedelta

from django.conf import settings
from django.core import signing
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from apps.archives.models import Export, Import
from apps.archives.services import UPLOAD_WITHIN

DOWNLOAD, UPLOAD = "archives.download", "archives.upload"


def download_link(request: HttpRequest, export: Export) -> tuple[str, datetime]:
    """Where to fetch the file, and until when."""
    lifetime = settings.ARCHIVE_LINK_LIFETIME
    return _link(request, "archive-download", DOWNLOAD, export.pk), timezone.now() + lifetime


def upload_link(request: HttpRequest, opened: Import) -> tuple[str, datetime]:
    """Where to send the file, and until when."""
    return _link(request, "archive-upload", UPLOAD, opened.pk), opened.created_at + UPLOAD_WITHIN


def _link(request: HttpRequest, name: str, salt: str, pk: uuid.UUID) -> str:
    token = signing.dumps(str(pk), salt=salt)
    return request.build_absolute_uri(reverse(name, kwargs={"token": token}))


def export_behind(token: str) -> Export:
    """Raises 404 for a link that is unknown or was good once."""
    exports = Export.objects.select_related("asked_by").filter(state=Export.State.READY)
    return get_object_or_404(
        exports.filter(expires_at__gt=timezone.now()),
        pk=_id_in(token, DOWNLOAD, settings.ARCHIVE_LINK_LIFETIME),
    )


def import_behind(token: str) -> Import:
    return get_object_or_404(Import, pk=_id_in(token, UPLOAD, UPLOAD_WITHIN))


def _id_in(token: str, salt: str, lifetime: timedelta) -> str | None:
    try:
        return signing.loads(token, salt=salt, max_age=lifetime)
    except signing.BadSignature:
        return None
