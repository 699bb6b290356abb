"""Gives each request its id, and the id to its answer (`apps.common.request_ids`)."""

from collections.abc import Callable

from django.http import HttpRequest
from django.http.response import HttpResponseBase

from apps.common.request_ids import HEADER, begin


class RequestIds:
    """Middleware, before all others."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        held = begin(request.headers.get(HEADER))
        response = self.get_response(request)
        response[HEADER] = held
        return response
