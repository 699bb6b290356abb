"""Health checks for monitoring. They give no details, because anybody can call them."""

import logging

from django.db import connection
from django.db.utils import Error
from django.http import HttpRequest, JsonResponse

log = logging.getLogger(__name__)


def live(request: HttpRequest) -> JsonResponse:
    """The process answers; nothing else is checked."""
    return JsonResponse({"status": "alive"})


def ready(request: HttpRequest) -> JsonResponse:
    """The database answers. A dead broker only delays results, so it is not checked."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except Error:
        log.exception("the database does not answer")
        return JsonResponse({"status": "not ready"}, status=503)
    return JsonResponse({"status": "ready"})
