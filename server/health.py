"""Whether the service lives and can work, for whatever watches over it. No detail for strangers."""

import logging

from django.db import connection
from django.db.utils import Error
from django.http import HttpRequest, JsonResponse

log = logging.getLogger(__name__)


def live(request: HttpRequest) -> JsonResponse:
    """The process answers; touches nothing."""
    return JsonResponse({"status": "alive"})


def ready(request: HttpRequest) -> JsonResponse:
    """The database answers. A dead broker only makes results later, so it is not asked."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except Error:
        log.exception("the database does not answer")
        return JsonResponse({"status": "not ready"}, status=503)
    return JsonResponse({"status": "ready"})
