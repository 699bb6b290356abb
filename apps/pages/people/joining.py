"""Pages for people who are not signed in yet: one-time links, and invitations.

Here alone a page calls services itself: there is nobody yet who could speak to the API.
"""

from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.decorators import method_decorator
from django.views import View
from django.views.decorators.debug import sensitive_post_parameters
from django.views.generic import FormView

from apps.accounts import one_time_links
from apps.accounts.browsers import browser_sign_in, browser_token
from apps.accounts.models import Person
from apps.accounts.passwords import password_set_by_link
from apps.common.errors import Conflict, Invalid, NotVisible
from apps.groups.selectors import invitation_shown
from apps.groups.services import invitation_accept
from apps.http.limits import Policy, address_of
from apps.notifications.selectors import inbox_of
from apps.notifications.services import inbox_change
from apps.pages.base import Page, waits
from apps.pages.codes import address_for_others, qr_code


class PasswordForm(forms.Form):
    """What of it cannot be taken, the service says."""

    password = forms.CharField(max_length=256, strip=False)


class NewPersonForm(PasswordForm):
    """What an account is made of."""

    name = forms.CharField(max_length=120)
    email = forms.EmailField()
    time_zone = forms.CharField(max_length=60, required=False)  # of the device, by a script


@method_decorator(sensitive_post_parameters("password"), name="dispatch")
class ByLinkView(Page, FormView):  # type: ignore[type-arg]  # not at run time
    """Takes a form from whoever has a link, who is signed in afterwards."""

    template_name: str
    used_up = "pages/link_used_up.html"

    def respond(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        wait_s = waits((Policy.of("address"), address_of(request)))
        if wait_s is not None:
            return self.too_often(wait_s)
        try:
            return super().respond(request, *args, **kwargs)
        except (Http404, NotVisible):
            return self.page(self.used_up, status=404)

    def form_valid(self, form: forms.Form) -> HttpResponse:
        try:
            person = self.enter(form)
        except Invalid as refused:
            for fault in refused.faults:
                name = fault.pointer.removeprefix("/")
                form.add_error(name if name in form.fields else None, fault.detail)
        except Conflict as refused:
            form.add_error("email" if refused.code == "email_in_use" else None, refused.detail)
        else:
            browser_sign_in(self.request, person)
            return redirect(self.get_success_url())
        return self.form_invalid(form)

    def form_invalid(self, form: forms.Form) -> HttpResponse:
        return self.render(form=form, status=422)

    def enter(self, form: forms.Form) -> Person:
        raise NotImplementedError

    def get_success_url(self) -> str:
        return reverse("pages:home")

    def render(self, status: int = 200, **context: Any) -> HttpResponse:
        return self.page(self.template_name, status=status, **self.get_context_data(**context))


class NewPersonView(ByLinkView):
    """Makes a person."""

    form_class = NewPersonForm

    def enter(self, form: forms.Form) -> Person:
        person = self.admit(form)
        clock_set(person, form.cleaned_data["time_zone"])
        return person

    def admit(self, form: forms.Form) -> Person:
        raise NotImplementedError


class NewPasswordView(ByLinkView):
    """`/new-password/SECRET`: for somebody who forgot theirs; the operator gave them the link."""

    form_class = PasswordForm
    template_name = "pages/new_password.html"

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        return self.render()

    def get_context_data(self, **context: Any) -> dict[str, Any]:
        somebody = one_time_links.password_link(self.kwargs["secret"])
        return super().get_context_data(somebody=somebody, **context)

    def enter(self, form: forms.Form) -> Person:
        password = form.cleaned_data["password"]
        return password_set_by_link(secret=self.kwargs["secret"], password=password)


def account_of(form: forms.Form) -> dict[str, str]:
    return {name: form.cleaned_data[name] for name in ("name", "email", "password")}


def clock_set(person: Person, time_zone: str) -> None:
    """Whoever has just come reads times on the clock of their device, if that has a known one."""
    if time_zone in available_timezones():
        inbox_change(
            person=person,
            expected_version=inbox_of(person).version,
            facts={"time_zone": time_zone},
        )


class StartView(NewPersonView):
    """`/start/SECRET`: the first person of a service; in the demo, one of its people."""

    template_name = "pages/start.html"

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        link = one_time_links.usable_link(kwargs["secret"])
        if link.person is not None:
            return self.page("pages/start_as.html", somebody=link.person)
        return self.render()

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if one_time_links.usable_link(kwargs["secret"]).person is None:
            return super().post(request, *args, **kwargs)
        browser_sign_in(request, one_time_links.demo_person_enter(secret=kwargs["secret"]))
        return redirect("pages:home")

    def admit(self, form: forms.Form) -> Person:
        return one_time_links.first_person_create(secret=self.kwargs["secret"], **account_of(form))

    def get_success_url(self) -> str:
        return f"{reverse('pages:new-group')}?first=1"


LONGEST_TOKEN = 200


class LinkForm(forms.Form):
    link = forms.CharField(max_length=400)


class InvitationLinkView(Page, FormView):  # type: ignore[type-arg]  # not at run time
    """`/join`: for whoever has a link that cannot be tapped."""

    template_name = "pages/join_by_link.html"
    form_class = LinkForm

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        return self.page(self.template_name)

    def form_invalid(self, form: forms.Form) -> HttpResponse:
        return self.page(self.template_name, status=422, form=form)

    def form_valid(self, form: forms.Form) -> HttpResponse:
        invitation = form.cleaned_data["link"].rstrip("/").rpartition("/")[2]
        return redirect("pages:join", invitation=invitation or "nothing")


class JoinView(NewPersonView):
    """`/join/TOKEN`: whoever is signed in accepts through the API, a newcomer right here."""

    template_name = "pages/join.html"
    used_up = "pages/invitation_used_up.html"

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        token = browser_token(request)
        self.person = None if token is None else token.person
        return self.render()

    def admit(self, form: forms.Form) -> Person:
        accepted = invitation_accept(token=self.kwargs["invitation"], by=None, **account_of(form))
        assert accepted.used_by is not None  # whoever accepts it
        return accepted.used_by

    def get_context_data(self, **context: Any) -> dict[str, Any]:
        shown = invitation_shown(self.kwargs["invitation"])
        into = shown.group or shown.club
        return super().get_context_data(shown=shown, into=into, **context)


class InvitationCodeView(View):
    """The QR code of an invitation's link. It tells no more than the link itself."""

    def get(self, request: HttpRequest, invitation: str) -> HttpResponse:
        if len(invitation) > LONGEST_TOKEN:
            raise Http404
        at = reverse("pages:join", kwargs={"invitation": invitation})
        return HttpResponse(
            qr_code(address_for_others(request) + at),
            content_type="image/svg+xml",
            headers={"Cache-Control": "no-store", "Content-Security-Policy": "default-src 'none'"},
        )
