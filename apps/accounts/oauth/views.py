"""The endpoints of OAuth 2, and the pages where a member signs in and allows a program."""

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlsplit

from django import forms
from django.contrib.auth import login
from django.contrib.auth.mixins import LoginRequiredMixin
from django.contrib.auth.views import LogoutView, RedirectURLMixin
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import redirect
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.debug import sensitive_post_parameters
from django.views.generic import FormView, TemplateView, View
from oauth2_provider.exceptions import FatalClientError
from oauth2_provider.models import Grant
from oauth2_provider.views import AuthorizationView, RevokeTokenView, TokenView
from oauthlib.oauth2 import InvalidClientIdError, InvalidRequestFatalError, OAuth2Error

from apps.accounts.models import Person, Program
from apps.accounts.secrets import digest
from apps.accounts.sign_in import person_identify
from apps.common.errors import Invalid
from apps.http.limits import CacheDown, Policy, address_of, hit_all, wait_s
from apps.http.problems import TooMany, Unavailable

GRANTS = ("authorization_code", "client_credentials", "refresh_token")


@method_decorator(never_cache, name="dispatch")
class PlainPage(View):
    """A page without scripts that cannot be framed or cached."""

    policy = "default-src 'none'; style-src 'self'; base-uri 'none'; frame-ancestors 'none'"

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        response = self.respond(request, *args, **kwargs)
        response["Content-Security-Policy"] = self.policy
        return response

    def respond(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Whatever is answered, refusals too."""
        return super().dispatch(request, *args, **kwargs)


class OAuthSignInForm(forms.Form):
    email = forms.EmailField(
        label="Email", widget=forms.EmailInput({"autocomplete": "username", "autofocus": True})
    )
    password = forms.CharField(
        label="Password",
        max_length=256,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "current-password"}),
    )


@method_decorator(sensitive_post_parameters("password"), name="dispatch")
class OAuthSignInView(PlainPage, RedirectURLMixin, FormView):  # type: ignore[type-arg]  # not at run time
    template_name = "accounts/sign_in.html"
    form_class = OAuthSignInForm
    next_page = "oauth2_provider:signed-in"

    def form_valid(self, form: OAuthSignInForm) -> HttpResponse:
        given = form.cleaned_data
        try:
            person = person_identify(
                email=given["email"],
                password=given["password"],
                address=address_of(self.request),
            )
        except Invalid as refused:
            return self.refuse(form, 422, refused.faults[0].detail)
        except TooMany as refused:
            answer = self.refuse(form, 429, f"Too often. Try again in {refused.wait_s} seconds.")
            answer["Retry-After"] = str(refused.wait_s)
            return answer
        except Unavailable:
            return self.refuse(form, 503, "This does not work at the moment. Try again later.")
        self.enter(person, form)
        return redirect(self.get_success_url())

    def enter(self, person: Person, form: forms.Form) -> None:
        login(self.request, person)

    def refuse(self, form: OAuthSignInForm, status: int, message: str) -> HttpResponse:
        form.add_error(None, message)
        return self.render_to_response(self.get_context_data(form=form), status=status)

    def get_context_data(self, **context: Any) -> dict[str, Any]:
        return super().get_context_data(next=self.get_redirect_url(), **context)


class SignedInView(PlainPage, LoginRequiredMixin, TemplateView):
    template_name = "accounts/signed_in.html"


class OAuthSignOutView(LogoutView):
    next_page = "oauth2_provider:sign-in"


class ConsentView(PlainPage, AuthorizationView):  # type: ignore[misc]  # the library has no types
    """Asks the member each time; a program cannot skip the question."""

    template_name = "accounts/consent.html"

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        asked = request.GET.copy()
        asked.pop("approval_prompt", None)
        request.GET = asked  # type: ignore[assignment]  # a copy, which is mutable
        answer: HttpResponse = super().get(request, *args, **kwargs)
        return answer

    def form_valid(self, form: forms.Form) -> HttpResponse:
        # The browser may have changed the form's hidden fields.
        client_id = form.cleaned_data["client_id"]
        if not Program.objects.filter(client_id=client_id).exists():
            return self.refuse(InvalidClientIdError())
        if too_long(form.cleaned_data):
            return self.refuse(InvalidRequestFatalError(description="Something is too long."))
        answer: HttpResponse = super().form_valid(form)
        return answer

    def form_invalid(self, form: forms.Form) -> HttpResponse:
        error = InvalidRequestFatalError(description="Something is missing from the form.")
        return self.refuse(error)

    def refuse(self, error: OAuth2Error) -> HttpResponse:
        answer: HttpResponse = self.error_response(FatalClientError(error), application=None)
        return answer

    def get_context_data(self, **context: Any) -> dict[str, Any]:
        destination = urlsplit(context.get("redirect_uri", "")).netloc
        whole: dict[str, Any] = super().get_context_data(destination=destination, **context)
        return whole


def too_long(hidden: Mapping[str, object]) -> bool:
    """Whether the form's hidden fields are too long for the grant."""
    room = {field.name: field.max_length for field in Grant._meta.fields if field.max_length}
    return any(len(str(hidden.get(name) or "")) > longest for name, longest in room.items())


@method_decorator(csrf_exempt, name="dispatch")  # programs have no cookies, and none is read
class CountedView(View):
    """An endpoint for programs with a rate limit, so that nobody can guess secrets."""

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        try:
            counts = hit_all((Policy.of("oauth_token"), digest(address_of(request))))
        except CacheDown:
            return not_now(503, 30)
        if (wait := wait_s(counts)) is not None:
            return not_now(429, wait)
        return super().dispatch(request, *args, **kwargs)


def not_now(status: int, wait_s: int) -> JsonResponse:
    return JsonResponse(
        {"error": "temporarily_unavailable"}, status=status, headers={"Retry-After": str(wait_s)}
    )


class ProgramTokenView(CountedView, TokenView):  # type: ignore[misc]  # the library has no types
    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.POST.get("grant_type") not in GRANTS:
            return JsonResponse({"error": "unsupported_grant_type"}, status=400)
        if "code" in request.POST:  # codes are stored as digests
            sent = request.POST.copy()
            sent["code"] = digest(str(sent["code"]))
            request.POST = sent  # type: ignore[assignment]  # a copy, which is mutable
        answer: HttpResponse = self.authorization_flow_token_response(request, *args, **kwargs)
        answer["Content-Type"] = "application/json"  # the library omits it in some refusals
        return answer


class ProgramRevokeView(CountedView, RevokeTokenView):  # type: ignore[misc]  # the library has no types
    pass
