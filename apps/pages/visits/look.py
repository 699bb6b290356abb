"""The look: an application that runs on the phone, and what it is given to take along.

Its pages are shells: the same for everybody, so that a phone can keep them. What they show comes
from the day that the phone keeps (`DayView`), and what is found goes to the public API.
"""

import hashlib
import json
from functools import cache
from pathlib import Path
from typing import Any
from uuid import UUID

from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template.loader import get_template
from django.urls import reverse
from django.utils import timezone
from django.views import View

from apps.pages.base import Page, PageView
from apps.pages.visits.looking import visit_serialized
from apps.pages.visits.own_visits import day_of

SHELLS = ("pages/visits/look.html", "pages/visits/outbox.html")
ANY_VISIT = UUID(int=0)


class LookView(Page):
    """One look. It names nobody: whoever opens it is shown what their phone has kept."""

    def get(self, request: HttpRequest, viewing_id: UUID) -> HttpResponse:
        return self.page("pages/visits/look.html")


class OutboxView(Page):
    """What is on this phone and not yet with the service."""

    def get(self, request: HttpRequest) -> HttpResponse:
        return self.page("pages/visits/outbox.html")


class DayView(PageView):
    """A visit and the reader's others of that day, with all that a phone needs to look."""

    def get(self, request: HttpRequest, viewing_id: UUID) -> HttpResponse:
        return JsonResponse(
            {
                "person": {"id": self.person.pk, "name": self.person.name},
                "read_at": timezone.now(),
                "visits": [
                    visit_serialized(self.person, visit, taken)
                    for visit, taken in day_of(self.person, viewing_id)
                ],
            }
        )


class WorkerView(View):
    """The service worker, which lets the shells open without signal. Its text is its version."""

    def get(self, request: HttpRequest) -> HttpResponse:
        files = shell_files()
        kept = {
            "version": version_of(files),
            "look": reverse("pages:look", args=[ANY_VISIT]),
            "outbox": reverse("pages:outbox"),
            "files": [f"/static/{name}" for name in files],
        }
        text = f"const KEPT = {json.dumps(kept)};\n{files_text('pages/sw.js')}"
        return HttpResponse(
            text, content_type="text/javascript", headers={"Cache-Control": "no-cache"}
        )


@cache
def shell_files() -> tuple[str, ...]:
    """The scripts and styles of the pages, by their names under /static/."""
    folder = Path(found("pages/pages.css")).parent
    names = (
        f"pages/{path.relative_to(folder).as_posix()}"
        for path in sorted(folder.rglob("*"))
        if path.suffix in (".js", ".css") and path.name != "sw.js"
    )
    return tuple(names)


@cache
def version_of(files: tuple[str, ...]) -> str:
    """A digest of all that the worker keeps, so that a change of any of it makes a new worker."""
    digest = hashlib.sha256()
    for name in files:
        digest.update(files_text(name).encode())
    for name in ("pages/base.html", *SHELLS):
        template: Any = get_template(name)
        digest.update(template.template.source.encode())
    return digest.hexdigest()[:16]


def files_text(name: str) -> str:
    return Path(found(name)).read_text()


def found(name: str) -> str:
    path = finders.find(name)
    assert isinstance(path, str), name
    return path
