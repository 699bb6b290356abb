"""Authentication: a bearer token (RFC 6750), or the cookie of the service's own pages."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from oauthlib.common import Request as OAuthRequest
from rest_framework.authentication import (
    BaseAuthentication,
    CSRFCheck,
    get_authorization_header,
)
from rest_framework.exceptions import AuthenticationFailed, PermissionDenied
from rest_framework.request import Request

from apps.accounts.access import Access
from apps.accounts.browsers import browser_token
from apps.accounts.models import Person, Token
from apps.accounts.oauth.validating import ProgramValidator, is_active
from apps.accounts.scopes import SCOPES
from apps.accounts.selectors import live_token
from apps.accounts.services import token_touch


class TokenAuthentication(BaseAuthentication):
    """`Authorization: Bearer <secret>`; a bad token is refused even if none is required."""

    def authenticate(self, request: Request) -> tuple[Person, Access] | None:
        words = get_authorization_header(request).split()
        if not words or words[0].lower() != b"bearer":
            return None
        if len(words) != 2:
            raise AuthenticationFailed("Send: Authorization: Bearer TOKEN", code="bad_token")
        secret = words[1].decode("latin-1")
        own = secret.startswith(Token.PREFIX)
        found = by_own_token(secret) if own else by_program(secret, request.build_absolute_uri())
        if found is None:
            raise AuthenticationFailed(
                "This token is unknown, expired or revoked.", code="bad_token"
            )
        person, access = found
        person.via = access
        return person, access

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="hardstand"'


def by_own_token(secret: str) -> tuple[Person, Access] | None:
    """The person behind a session's or a script's token. One query."""
    token = live_token(secret)
    if token is None:
        return None
    token_touch(token=token)
    return token.person, token.access


def by_program(secret: str, uri: str) -> tuple[Person, Access] | None:
    """The account behind a program's token: the member it acts for, or its own. One query."""
    asked = OAuthRequest(uri)
    if not ProgramValidator().validate_bearer_token(secret, [], asked) or asked.client is None:
        return None
    person = asked.user or asked.client.account
    if not is_active(person):
        return None
    return person, asked.client.access(set(asked.scopes), asked.access_token.pk)


class CookieAuthentication(BaseAuthentication):
    """The cookie of a browser that signed in on a page of this service.

    Browsers send it automatically, so a request that could come from another origin's page is
    refused: https://owasp.org/www-community/attacks/csrf.
    """

    def authenticate(self, request: Request) -> tuple[Person, Access] | None:
        if "Authorization" in request.headers:
            return None  # a token in the header takes precedence
        token = browser_token(request)
        if token is None:
            return None
        require_own_origin(request)
        return token.person, token.access


def require_own_origin(request: Request) -> None:
    """Raise `PermissionDenied` for a request that another origin's page may have sent.

    It checks `Sec-Fetch-Site`, which current browsers always send; for writes also `Origin`
    (`Referer` behind TLS) and a token that other pages cannot read.
    """
    changes = request.method not in ("GET", "HEAD", "OPTIONS")
    followed_a_link = not changes and request.headers.get("Sec-Fetch-Mode") == "navigate"
    site = request.headers.get("Sec-Fetch-Site", "same-origin")
    if site not in ("same-origin", "none") and not followed_a_link:
        raise PermissionDenied(
            "The cookie works from this service's own pages only.", "csrf_failed"
        )
    if changes and (fault := csrf_fault(request)):
        raise PermissionDenied(f"The cookie needs its token in X-CSRFToken. {fault}", "csrf_failed")


def csrf_fault(request: Request) -> str:
    """What Django's check finds wrong, if anything. It looks at the headers alone: the body is for
    the view to read."""
    headers = HttpRequest()
    headers.method, headers.META, headers.COOKIES = "PUT", request.META, request.COOKIES
    check = CSRFCheck(lambda _: None)  # type: ignore[arg-type]  # there is no next middleware
    check.process_request(headers)
    return str(check.process_view(headers, None, (), {}) or "")  # type: ignore[arg-type]


class CookieScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]  # the base is untyped
    target_class = CookieAuthentication
    name = "cookie"

    def get_security_definition(self, auto_schema: Any) -> dict[str, Any]:
        return {
            "type": "apiKey",
            "in": "cookie",
            "name": settings.SESSION_COOKIE_NAME,
            "description": (
                "For the service's own pages, where people sign in; programs use a token. Changes "
                "need the value of the cookie `csrftoken` in the header `X-CSRFToken`."
            ),
        }


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]  # the base is untyped
    """A person's token, or a program's token from OAuth 2."""

    target_class = TokenAuthentication
    name = ["token", "program"]

    def get_security_requirement(self, auto_schema: Any) -> list[dict[str, list[str]]]:
        scope = getattr(auto_schema.view, "scopes", {}).get(auto_schema.method)
        if scope is None:
            return [{"token": []}]
        return [{"token": []}, {"program": [scope]}]  # only OAuth 2 schemes name scopes

    def get_security_definition(self, auto_schema: Any) -> list[dict[str, Any]]:
        refresh = {"tokenUrl": "/oauth/token", "refreshUrl": "/oauth/token", "scopes": SCOPES}
        return [
            {
                "type": "http",
                "scheme": "bearer",
                "description": (
                    "What POST /sessions or POST /tokens answers with. A token from the latter may "
                    "be limited to the scopes named."
                ),
            },
            {
                "type": "oauth2",
                "description": "For programs: authorization code with PKCE, or client credentials.",
                "flows": {
                    "authorizationCode": {"authorizationUrl": "/oauth/authorize", **refresh},
                    "clientCredentials": {"tokenUrl": "/oauth/token", "scopes": SCOPES},
                },
            },
        ]
