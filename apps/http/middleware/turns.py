"""Gives each request a turn (`apps.common.processes.turns`)."""

from collections.abc import Callable

from django.http import HttpRequest
from django.http.response import HttpResponseBase

from apps.common.processes.turns import turns

WITHOUT_A_TURN = "/health/"  # answers at once, however many requests wait for a turn
RETRY_AFTER_SECONDS = 5


class OneTurnEach:
    """Middleware. A request that waited in vain is told when to ask again."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if request.path_info.startswith(WITHOUT_A_TURN):
            return self.get_response(request)
        with turns.turn(asks_to_wait="wait" in request.GET) as turn:
            response = self.get_response(request)
        if turn.in_vain:
            response["Retry-After"] = str(RETRY_AFTER_SECONDS)
        return response
