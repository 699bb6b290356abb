"""The pages behind links in mails, which work without signing in.

Opening a link changes nothing, because mail scanners open every link. The page's button acts, or
the one POST that mail programs send (RFC 8058).
"""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from apps.common.errors import Invalid
from apps.notifications.services import address_confirm, mail_end

SHOWN_NOWHERE_ELSE = "default-src 'none'; style-src 'self'; base-uri 'none'; frame-ancestors 'none'"


@csrf_exempt  # no cookie is read: the link authorises
@never_cache
@require_http_methods(["GET", "POST"])
def unsubscribe(request: HttpRequest, token: str) -> HttpResponse:
    return _page(request, "unsubscribe", lambda: mail_end(token=token))


@csrf_exempt
@never_cache
@require_http_methods(["GET", "POST"])
def confirm(request: HttpRequest, token: str) -> HttpResponse:
    return _page(request, "confirm", lambda: address_confirm(token=token))


def _page(request: HttpRequest, name: str, do: Callable[[], None]) -> HttpResponse:
    done, refused = False, ""
    if request.method == "POST":
        try:
            do()
            done = True
        except Invalid as error:
            refused = error.faults[0].detail
    page = render(
        request,
        f"notifications/{name}.html",
        {"done": done, "refused": refused},
        status=422 if refused else 200,
    )
    page["Content-Security-Policy"] = SHOWN_NOWHERE_ELSE
    page["Referrer-Policy"] = "no-referrer"  # the address is secret
    return page
