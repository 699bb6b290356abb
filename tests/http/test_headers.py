"""Every answer has the headers that keep browsers from running or framing it.

What they mean is from memory of the W3C's Content Security Policy Level 3, the Fetch standard
(nosniff) and RFC 7034 (X-Frame-Options).
"""

from collections.abc import Iterator

import pytest
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from apps.accounts.models import Person
from apps.http.middleware.policy import WITHOUT

USUAL = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
}
SECRETIVE = {"same-origin", "no-referrer"}


def plain_addresses(resolver: URLResolver, before: str = "/") -> Iterator[str]:
    """Every address without names in it."""
    for one in resolver.url_patterns:
        at = before + str(one.pattern).lstrip("^").rstrip("$")
        if isinstance(one, URLResolver):
            yield from plain_addresses(one, at)
        elif isinstance(one, URLPattern) and not set("<(\\") & set(at):
            yield at.removesuffix("\\Z")


def require_headers(answer, at: str) -> None:
    for name, value in USUAL.items():
        assert answer.get(name) == value, (at, name)
    assert answer.get("Referrer-Policy") in SECRETIVE, at
    if answer.get("Content-Type", "").startswith(WITHOUT):
        return
    policy = answer["Content-Security-Policy"]
    assert "frame-ancestors 'none'" in policy, at
    assert policy.startswith(("default-src 'none'", "default-src 'self'")), at
    assert "unsafe-eval" not in policy, at
    assert "script-src 'unsafe" not in policy, at
    assert "http" not in policy, "nothing comes from another host"


@pytest.mark.django_db
def test_every_address_has_them_for_nobody_and_for_the_operator(client):
    operator = Person.objects.create_superuser("op@example.org", "x", name="Op")
    addresses = set(plain_addresses(get_resolver()))
    assert {"/", "/docs/", "/docs/api", "/admin/", "/health/live", "/api/v1/groups"} <= addresses
    for signed_in in (False, True):
        if signed_in:
            client.force_login(operator)
        for at in sorted(addresses):
            require_headers(client.get(at), at)


@pytest.mark.django_db
@pytest.mark.parametrize("accepted", ["text/html", "application/json"])
@pytest.mark.parametrize(
    "at",
    ["/nothing-here", "/api/v1/nothing-here", "/docs/guide/none", "/media/photo/x/y", "/admin/x"],
)
def test_refusals_have_them_too(client, at, accepted):
    answer = client.get(at, headers={"accept": accepted})
    assert answer.status_code in (302, 401, 404)
    require_headers(answer, at)


@pytest.mark.django_db
def test_a_form_of_another_site_is_refused_with_them():
    answer = Client(enforce_csrf_checks=True).post("/oauth/sign-in", {"email": "x"})
    assert answer.status_code >= 400
    require_headers(answer, "/oauth/sign-in")


@pytest.mark.django_db
def test_nothing_inline_is_in_the_admin_that_its_policy_would_stop(client):
    client.force_login(Person.objects.create_superuser("op@example.org", "x", name="Op"))
    for at in ("/admin/", "/admin/accounts/person/", "/admin/accounts/person/add/"):
        answer = client.get(at)
        assert answer.status_code in (200, 403), at
        page = answer.content.decode()
        assert "<script>" not in page, at
        assert "onclick=" not in page, at
