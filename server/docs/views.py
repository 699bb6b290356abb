"""The pages at /docs/: open to everybody, without cookies and without content of other hosts."""

from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from apps.accounts.scopes import SCOPES
from apps.appraisal.words.sentences import CAUTION
from server.docs.access import ROLES, access_table
from server.docs.guide import GUIDE, OPERATING, pages, saturday
from server.docs.problems import catalogue

View = Callable[..., HttpResponse]

# Only the style sheet and pictures are loaded, no script runs, and no other page can frame it.
PLAIN = (
    "default-src 'none'; style-src 'self'; img-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)
# The reference is a script: served from here, it calls only this service and draws its icons.
PROGRAM = (
    "default-src 'none'; script-src 'self'; connect-src 'self'; style-src 'self'; "
    "img-src 'self' data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)


def with_policy(policy: str) -> Callable[[View], View]:
    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            response = view(request, *args, **kwargs)
            response["Content-Security-Policy"] = policy
            return response

        return guarded

    return decorate


def page(request: HttpRequest, template: str, **context: Any) -> HttpResponse:
    status = context.pop("status", 200)
    return render(
        request,
        f"docs/{template}.html",
        {
            "pages": pages(),
            "operating": pages(OPERATING),
            "caution": CAUTION,
            "here": request.path,
            **context,
        },
        status=status,
    )


@require_safe
@with_policy(PLAIN)
def index(request: HttpRequest) -> HttpResponse:
    return page(request, "index")


@require_safe
@with_policy(PLAIN)
def on_saturday(request: HttpRequest) -> HttpResponse:
    return page(request, "guide", page=saturday(), html=saturday().html)


@require_safe
@with_policy(PLAIN)
def guide_page(request: HttpRequest, slug: str) -> HttpResponse:
    return one_of(request, GUIDE, "docs-guide", slug)


@require_safe
@with_policy(PLAIN)
def operating_page(request: HttpRequest, slug: str) -> HttpResponse:
    return one_of(request, OPERATING, "docs-operating", slug)


def one_of(request: HttpRequest, folder: Path, part: str, slug: str) -> HttpResponse:
    """part: the name of the path of its neighbours."""
    order = pages(folder)
    at = next((n for n, one in enumerate(order) if one.slug == slug), None)
    if at is None:
        return page(request, "not_found", status=404)
    return page(
        request,
        "guide",
        part=part,
        page=order[at],
        html=order[at].html_at(request.build_absolute_uri("/").rstrip("/")),
        before=order[at - 1] if at else None,
        after=order[at + 1] if at + 1 < len(order) else None,
    )


@require_safe
@with_policy(PLAIN)
def problems(request: HttpRequest) -> HttpResponse:
    return page(request, "problems", problems=catalogue())


@require_safe
@with_policy(PLAIN)
def access(request: HttpRequest) -> HttpResponse:
    return page(request, "access", parts=access_table(), roles=ROLES)


@require_safe
@with_policy(PROGRAM)
def api(request: HttpRequest) -> HttpResponse:
    return page(request, "api", scopes=SCOPES)
