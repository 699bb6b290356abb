"""The base of every page, and what is shown where there is none."""

import logging
from typing import Any
from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from apps.accounts.browsers import browser_token
from apps.accounts.models import Person
from apps.accounts.oauth import views as oauth
from apps.appraisal.words.sentences import CAUTION
from apps.common.errors import NotAllowed, NotVisible
from apps.common.units import units_shown_as
from apps.http import limits, problems
from apps.notifications.selectors import inbox_of
from apps.pages.codes import is_this_machine

log = logging.getLogger(__name__)

# Everything from this service alone, nothing inline. Photos and recordings just made are in memory.
POLICY = (
    "default-src 'self'; img-src 'self' blob: data:; media-src 'self' blob:; object-src 'none'; "
    "base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)


class Page(oauth.PlainPage):
    """A page for anybody."""

    policy = POLICY
    person: Person | None = None

    def page(self, template: str, *, status: int = 200, **context: Any) -> HttpResponse:
        get_token(self.request)  # scripts read it from its cookie and send it with what they write
        context = {
            "person": self.person,
            "caution": CAUTION,
            "in_the_clear": in_the_clear(self.request),
            **context,
        }
        return render(self.request, template, context, status=status)

    def not_here(self) -> HttpResponse:
        return self.page("pages/not_here.html", status=404)

    def too_often(self, wait_s: int) -> HttpResponse:
        answer = self.page("pages/too_often.html", status=429, wait_s=wait_s)
        answer["Retry-After"] = str(wait_s)
        return answer

    def http_method_not_allowed(
        self, request: HttpRequest, *args: Any, **kwargs: Any
    ) -> HttpResponse:
        """A form that no script has sent comes to the page it stands on."""
        answer = self.page("pages/not_sent.html", status=405)
        answer["Allow"] = super().http_method_not_allowed(request)["Allow"]
        return answer


class PageView(Page):
    """A page for whoever is signed in. What they may not see is not there."""

    person: Person

    def respond(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        token = browser_token(request)
        if token is None:
            return self.signed_out(request)
        request.user = self.person = token.person
        person, client = limits.Policy.of("person"), limits.Policy.of("client")
        wait_s = waits((person, str(self.person.pk)), (client, str(token.pk)))
        if wait_s is not None:
            return self.too_often(wait_s)
        zone, units = inbox_of(self.person).zone, self.person.units
        with timezone.override(zone), units_shown_as(units):
            try:
                return super().respond(request, *args, **kwargs)
            except (Http404, NotVisible, NotAllowed):
                return self.not_here()

    def signed_out(self, request: HttpRequest) -> HttpResponse:
        """To the sign-in, and back from there."""
        back = urlencode({"next": request.get_full_path()})
        return redirect(f"{reverse('pages:sign-in')}?{back}")


def in_the_clear(request: HttpRequest) -> bool:
    """Whether the page comes over the network without encryption. Browsers keep no pages then."""
    return not request.is_secure() and not is_this_machine(request.build_absolute_uri("/"))


def waits(*whos: tuple[limits.Policy, str]) -> int | None:
    """Count the request as one to the API: for how many seconds to wait, if at all."""
    try:
        counts = limits.hit_all(*whos)
    except limits.CacheDown:
        log.warning("the cache does not answer: requests are not counted")
        return None
    return limits.wait_s(counts)


def form_refused(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form that was sent without its token: from another site, or long after it was shown."""
    return without_a_view(request, "pages/form_refused.html", 403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """No such address: a page for people, problem details for programs."""
    asks_for_a_page = "text/html" in request.headers.get("Accept", "")
    if request.path.startswith("/api/") or not asks_for_a_page:
        return problems.not_found(request, exception)
    return without_a_view(request, "pages/not_here.html", 404)


def without_a_view(request: HttpRequest, template: str, status: int) -> HttpResponse:
    answer = render(request, template, {"caution": CAUTION}, status=status)
    answer["Content-Security-Policy"] = POLICY
    return answer
