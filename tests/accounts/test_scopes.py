"""Limited tokens: each operation names its scope or is for signed-in people only."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
from django.urls import URLPattern, get_resolver
from django.utils import timezone
from drf_spectacular.generators import SchemaGenerator

from apps.accounts.models import Token
from apps.accounts.scopes import SCOPES
from apps.accounts.services import token_create
from apps.http.views import View
from tests.conftest import Speaker

# Only signed-in people make, change and revoke keys: no key makes another one.
# Joining needs a signed-in person too.
SESSIONS_ONLY = {
    ("SessionsView", "GET"),
    ("SessionsView", "POST"),
    ("SessionView", "DELETE"),
    ("TokensView", "GET"),
    ("TokensView", "POST"),
    ("TokenView", "DELETE"),
    ("GrantsView", "GET"),
    ("GrantView", "DELETE"),
    ("ProgramsView", "POST"),
    ("ProgramView", "PATCH"),
    ("ProgramView", "DELETE"),
    ("MeView", "PATCH"),
    ("AcceptancesView", "POST"),
    ("DeletionsView", "POST"),
    ("PasswordChangesView", "POST"),
    ("ConfirmationsView", "POST"),
}
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")


def views(patterns=None) -> Iterator[type[View]]:
    for entry in get_resolver().url_patterns if patterns is None else patterns:
        if not isinstance(entry, URLPattern):
            yield from views(entry.url_patterns)
        elif issubclass(getattr(entry.callback, "view_class", object), View):
            yield entry.callback.view_class


def operations() -> set[tuple[type[View], str]]:
    return {(view, m) for view in views() for m in METHODS if hasattr(view, m.lower())}


def test_every_operation_declares_a_scope_or_is_for_sessions_only():
    undeclared = {(v.__name__, m) for v, m in operations() if m not in v.scopes}
    assert undeclared == SESSIONS_ONLY


def test_what_is_declared_exists():
    declared = {(view, method) for view in views() for method in view.scopes}
    assert declared <= operations()
    assert {view.scopes[method] for view, method in declared} == set(SCOPES)


def test_the_schema_says_which_scope_each_operation_needs():
    paths = SchemaGenerator().get_schema(public=True)["paths"]
    said = paths["/api/v1/viewings/{viewing_id}/submissions"]
    assert {"program": ["findings:write"]} in said["post"]["security"]
    assert {"program": ["findings:read"]} in said["get"]["security"]
    silent = {
        (path, method)
        for path, methods in paths.items()
        for method, operation in methods.items()
        if method.upper() in METHODS and "security" not in operation
    }
    assert silent <= {("/api/v1/sessions", "post"), ("/api/v1/schema", "get")}


def limited(who: Speaker, *scopes: str) -> Speaker:
    _, secret = token_create(
        person=who.person,
        kind=Token.Kind.PERSONAL,
        scopes=list(scopes),
        expires_at=timezone.now() + timedelta(days=1),
    )
    return Speaker(who.person, secret)


def test_a_limited_token_opens_what_it_names(cast):
    script = limited(cast.ola, "lists:read")
    assert script.get("/groups").status_code == 200
    assert script.get(f"/groups/{cast.group.id}/lists").status_code == 200


def test_and_nothing_else_and_is_told_what_it_lacks(cast):
    refused = limited(cast.ola, "lists:read").post("/groups", {"name": "Knot"})
    assert refused.status_code == 403
    assert refused.json()["code"] == "insufficient_scope"
    assert refused.json()["scope"] == "group:manage"
    # RFC 6750 section 3.1: the challenge carries the error and may carry the scope needed.
    challenge = 'Bearer error="insufficient_scope", scope="group:manage"'
    assert refused["WWW-Authenticate"] == challenge


def test_what_declares_no_scope_is_closed_to_every_token(cast):
    for script in (limited(cast.ola, *SCOPES), unlimited(cast.ola)):
        refused = script.get("/sessions")
        assert (refused.status_code, refused.json()["code"]) == (403, "session_needed")


def unlimited(who: Speaker) -> Speaker:
    _, secret = token_create(
        person=who.person,
        kind=Token.Kind.PERSONAL,
        expires_at=timezone.now() + timedelta(days=1),
    )
    return Speaker(who.person, secret)


def test_no_scope_reaches_further_than_the_person(cast):
    observer = limited(cast.ivy, *SCOPES)
    path = f"/groups/{cast.group.id}"
    assert observer.change("PATCH", path, {"name": "Mine"}).status_code == 403
    assert limited(cast.sten, *SCOPES).get(path).status_code == 404


@pytest.mark.parametrize("method", ["PUT", "DELETE"])
def test_a_wrong_method_is_told_as_such(cast, method):
    assert limited(cast.ola, "lists:read").send(method, "/groups", {}).status_code == 405
