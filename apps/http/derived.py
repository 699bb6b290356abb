"""Computed answers, as JSON and as files."""

from collections.abc import Callable, Mapping

from django.http import HttpResponse
from rest_framework.request import Request
from rest_framework.response import Response

from apps.common.digests import digest_of
from apps.http.views import is_held


def derived(answer: Mapping[str, object]) -> Response:
    """A computed answer with an ETag of its content, so that clients can check it cheaply."""
    response = Response(answer)
    response["ETag"] = f'"{digest_of(answer)}"'
    return response


def unless_held(
    request: Request, etag: str, compose: Callable[[], bytes | Mapping[str, object]]
) -> HttpResponse:
    """A JSON answer, composed only if the client does not hold it already.

    etag: of all that the answer depends on. The answer may be newer, never older: then the client
    gets it once more.
    """
    response: HttpResponse
    if is_held(request, etag):
        response = HttpResponse(status=304)
    else:
        answer = compose()
        if isinstance(answer, bytes):
            response = HttpResponse(answer, content_type="application/json")
        else:
            response = Response(answer)
    response["ETag"] = etag
    return response


def as_file(content: str | bytes, media_type: str, name: str) -> Response:
    response = Response(content, content_type=media_type)
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response
