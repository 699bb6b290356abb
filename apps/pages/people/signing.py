"""Signing in and out."""

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from apps.accounts.browsers import browser_sign_in, browser_sign_out
from apps.accounts.models import Person
from apps.accounts.oauth import views as oauth
from apps.pages.base import POLICY, Page


class SignInForm(oauth.OAuthSignInForm):
    shared = forms.BooleanField(required=False)


class SignInView(oauth.OAuthSignInView):
    """Sign-in that counts guesses and sets a cookie (`accounts/browsers.py`)."""

    policy = POLICY
    template_name = "pages/sign_in.html"
    form_class = SignInForm
    next_page = "pages:home"

    def enter(self, person: Person, form: forms.Form) -> None:
        browser_sign_in(self.request, person, shared=form.cleaned_data["shared"])


class SignOutView(Page):
    http_method_names = ["post"]

    def post(self, request: HttpRequest) -> HttpResponse:
        browser_sign_out(request, everywhere="everywhere" in request.POST)
        return redirect("pages:home")
