"""The content security policy of whatever has none of its own: no document goes without one.

Pages for people, the documentation and files have stricter ones, set by their views.
"""

from collections.abc import Callable

from django.http import HttpRequest
from django.http.response import HttpResponseBase

HEADER = "Content-Security-Policy"
# Reports and drawings have their style within, and pictures as data. Nothing runs or is sent.
NOTHING_RUNS = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
# Django's admin has its scripts and styles in files of this service.
ADMIN = (
    "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; "
    "form-action 'self'; frame-ancestors 'none'"
)
# A browser's viewer of printed reports may be a page of its own, and a worker is held to the policy
# of its script: a policy could break either.
WITHOUT = ("application/pdf", "text/javascript", "application/javascript")


class ContentPolicy:
    """Middleware, outside all others that answer."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if not response.headers.get("Content-Type", "").startswith(WITHOUT):
            is_admin = request.path.startswith("/admin/")
            response.headers.setdefault(HEADER, ADMIN if is_admin else NOTHING_RUNS)
        return response
