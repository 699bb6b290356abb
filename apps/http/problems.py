"""Problem details (RFC 9457): one shape for every refusal, with JSON pointers for bad fields."""

import logging
from collections.abc import Iterator
from typing import Any

from django.conf import settings
from django.core.exceptions import RequestDataTooBig
from django.http import Http404, HttpRequest, JsonResponse
from rest_framework import exceptions as drf
from rest_framework.response import Response

from apps.common import errors

log = logging.getLogger(__name__)

CONTENT_TYPE = "application/problem+json"

TITLES = {
    400: "The request cannot be read",
    401: "Sign in first",
    403: "Not allowed",
    404: "Not found",
    405: "Method not allowed here",
    406: "No such form of answer",
    409: "Conflict with what is stored",
    410: "Not kept any more",
    411: "Say how long the body is",
    412: "Changed since you read it",
    413: "Too large",
    415: "Media type not accepted",
    422: "Some fields cannot be accepted",
    428: "Say which version you read",
    429: "Too many requests",
    503: "Not now",
    507: "No room",
    500: "Something went wrong here",
}


class ProblemResponse(Response):
    """A refusal; `extra` members are added to the standard ones."""

    def __init__(self, status: int, code: str, detail: str, **extra: Any) -> None:
        super().__init__(
            problem(status, code, detail, **extra), status=status, content_type=CONTENT_TYPE
        )
        self.exception = True


def problem(status: int, code: str, detail: str, **extra: Any) -> dict[str, Any]:
    return {
        "type": f"/docs/problems#{code}",
        "title": TITLES.get(status, "Refused"),
        "status": status,
        "code": code,
        "detail": detail,
        **extra,
    }


class PreconditionRequired(errors.ServiceError):
    """A change of a shared record came without If-Match."""


class LengthRequired(errors.ServiceError):
    """A body came in chunks."""


class ScopeMissing(errors.ServiceError):
    """The token lacks this scope; None: only a signed-in person may."""

    def __init__(self, scope: str | None) -> None:
        self.scope = scope


class TooMany(errors.ServiceError):
    """Too many requests; the next one is allowed after so many seconds."""

    def __init__(self, wait_s: int) -> None:
        self.wait_s = wait_s


class Unavailable(errors.ServiceError):
    """A required part of the service does not answer."""


def handle_exception(exc: Exception, context: dict[str, Any]) -> Response | None:
    """The problem details of an exception of a service or the framework; None gives a 500."""
    match exc:
        case errors.Invalid(faults=faults):
            return invalid_fields(faults)
        case errors.NotVisible() | Http404():
            return ProblemResponse(404, "not_found", "There is no such thing, or not for you.")
        case errors.NotAllowed(detail=detail, roles=roles):
            return ProblemResponse(403, "not_allowed", detail, roles=list(roles))
        case errors.Stale():
            return ProblemResponse(
                412, "stale", "Somebody changed this after you read it. Read it again, then retry."
            )
        case PreconditionRequired():
            return ProblemResponse(
                428, "if_match_required", "Send If-Match with the ETag you read."
            )
        case LengthRequired():
            return ProblemResponse(
                411, "length_required", "Send the body in one piece, with Content-Length."
            )
        case RequestDataTooBig():
            most = settings.DATA_UPLOAD_MAX_MEMORY_SIZE // 1024
            return ProblemResponse(413, "too_large", f"A body has at most {most} KiB.")
        case errors.Conflict(code=code, detail=detail):
            return ProblemResponse(409, code, detail)
        case errors.Gone(code=code, detail=detail):
            return ProblemResponse(410, code, detail)
        case TooMany(wait_s=wait_s):
            return later(429, "too_many_requests", f"Ask again in {wait_s} seconds.", wait_s)
        case errors.StorageFailed(full=True):
            return later(
                507, "storage_full", "There is no room for files at the moment. Try again.", 300
            )
        case errors.StorageFailed():
            return later(
                503,
                "storage_unavailable",
                "Files can be neither stored nor read at the moment. Nothing was stored.",
                60,
            )
        case Unavailable():
            return later(
                503, "unavailable", "The service is not available at the moment. Try again.", 30
            )
        case ScopeMissing(scope=None):
            return ProblemResponse(
                403, "session_needed", "Only a person who signed in may do this."
            )
        case ScopeMissing(scope=str(scope)):
            return scope_missing(scope)
        case drf.ValidationError():
            return invalid_fields(list(flatten(exc.get_full_details())))
        case drf.APIException():
            return from_framework(exc)
    return None


def invalid_fields(faults: list[errors.FieldFault]) -> ProblemResponse:
    return ProblemResponse(
        422,
        "invalid",
        faults[0].detail if len(faults) == 1 else f"{len(faults)} fields cannot be accepted.",
        errors=[
            {"pointer": fault.pointer, "code": fault.code, "detail": fault.detail}
            for fault in faults
        ],
    )


def scope_missing(scope: str) -> ProblemResponse:
    answer = ProblemResponse(
        403, "insufficient_scope", f"This token does not open it: it lacks {scope}.", scope=scope
    )
    # RFC 6750 section 3.1.
    answer["WWW-Authenticate"] = f'Bearer error="insufficient_scope", scope="{scope}"'
    return answer


def later(status: int, code: str, detail: str, wait_s: int) -> ProblemResponse:
    answer = ProblemResponse(status, code, detail)
    answer["Retry-After"] = str(wait_s)
    return answer


def from_framework(exc: drf.APIException) -> ProblemResponse:
    code = exc.get_codes()
    answer = ProblemResponse(
        exc.status_code, code if isinstance(code, str) else "refused", str(exc.detail)
    )
    if header := getattr(exc, "auth_header", None):
        answer["WWW-Authenticate"] = header
    if (wait := getattr(exc, "wait", None)) is not None:
        answer["Retry-After"] = str(max(1, round(wait)))
    return answer


def escape(token: str) -> str:
    """One reference token of a JSON pointer (RFC 6901 section 3)."""
    return token.replace("~", "~0").replace("/", "~1")


def flatten(details: Any, pointer: str = "") -> Iterator[errors.FieldFault]:
    """Serializer errors, however nested, as a flat list of faults with pointers."""
    if isinstance(details, dict) and set(details) == {"message", "code"}:
        yield errors.FieldFault(pointer, str(details["code"]), str(details["message"]))
    elif isinstance(details, dict):
        for name, inner in details.items():
            at = pointer if name == "non_field_errors" else f"{pointer}/{escape(str(name))}"
            yield from flatten(inner, at)
    else:
        for index, inner in enumerate(details):
            # A list holds either messages about this field or one entry for each item sent.
            is_message = isinstance(inner, dict) and set(inner) == {"message", "code"}
            yield from flatten(inner, pointer if is_message else f"{pointer}/{index}")


def _page(status: int, code: str, detail: str) -> JsonResponse:
    return JsonResponse(problem(status, code, detail), status=status, content_type=CONTENT_TYPE)


def bad_request(request: HttpRequest, exception: Exception | None = None) -> JsonResponse:
    return _page(400, "bad_request", "The request cannot be read.")


def forbidden(request: HttpRequest, exception: Exception | None = None) -> JsonResponse:
    return _page(403, "not_allowed", "This is not allowed.")


def not_found(request: HttpRequest, exception: Exception | None = None) -> JsonResponse:
    return _page(404, "not_found", "There is no such thing, or not for you.")
