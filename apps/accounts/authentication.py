"""Who is asking: a bearer token (RFC 6750) stands for one account."""

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from oauthlib.common import Request as OAuthRequest
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from apps.accounts.access import Access
from apps.accounts.models import Person, Token
from apps.accounts.oauth.validating import ProgramValidator, is_active
from apps.accounts.scopes import SCOPES
from apps.accounts.selectors import live_token
from apps.accounts.services import token_touch


class TokenAuthentication(BaseAuthentication):
    """`Authorization: Bearer <secret>`; a bad token is refused even where none is needed."""

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


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]  # the base is untyped
    """One of two: the token of a person, or of a program that got it by OAuth 2."""

    target_class = TokenAuthentication
    name = ["token", "program"]

    def get_security_requirement(self, auto_schema: Any) -> list[dict[str, list[str]]]:
        scope = getattr(auto_schema.view, "scopes", {}).get(auto_schema.method)
        if scope is None:
            return [{"token": []}]
        return [{"token": [scope]}, {"program": [scope]}]

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
