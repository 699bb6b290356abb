"""Answers 503 with Retry-After from every view if the database is locked or away."""

import logging
import sys

from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.deprecation import MiddlewareMixin

from apps.common.request_ids import current_id
from apps.http.problems import CONTENT_TYPE, problem

log = logging.getLogger(__name__)

RETRY_AFTER_SECONDS = 5
# SQLite's primary result codes: busy, locked, an error of the disk, full, cannot be opened.
SQLITE_AWAY = {5, 6, 10, 13, 14}
# Classes of SQLSTATE (PostgreSQL, appendix A): connection, transaction rollback (deadlock,
# serialization), insufficient resources, not in prerequisite state (lock not available), operator
# intervention (cancelled, shut down, starting up).
SQLSTATE_AWAY = ("08", "40", "53", "55P03", "57")


class DatabaseAway(MiddlewareMixin):
    """Middleware for such errors of views, including the beginning and end of transactions."""

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        if not database_away(error):
            return None
        log.warning("the database is locked or away: %s", error)
        return away_response()


def database_away(error: BaseException | None) -> bool:
    """Whether the same statement may work later; False for a faulty statement."""
    if isinstance(error, InterfaceError):
        return True
    if not isinstance(error, OperationalError):
        return False
    cause = error.__cause__
    code = getattr(cause, "sqlite_errorcode", None)
    if code is not None:
        return code & 0xFF in SQLITE_AWAY
    state = getattr(cause, "sqlstate", None)
    # No connection, or none in the pool: there is no SQLSTATE then.
    return state is None or state.startswith(SQLSTATE_AWAY)


def away_response() -> JsonResponse:
    answer = _refusal(503, "unavailable", "The database is busy at the moment. Try again.")
    answer["Retry-After"] = str(RETRY_AFTER_SECONDS)
    return answer


def server_error(request: HttpRequest) -> HttpResponse:
    """The last exception handler, also for errors before and after views."""
    if database_away(sys.exc_info()[1]):
        return away_response()
    return _refusal(
        500,
        "server_error",
        "Something went wrong here. It has been logged.",
        request_id=current_id(),
    )


def _refusal(status: int, code: str, detail: str, **extra: str) -> JsonResponse:
    body = problem(status, code, detail, **extra)
    return JsonResponse(body, status=status, content_type=CONTENT_TYPE)
