"""Who is asking: a bearer token (RFC 6750) stands for one account."""

from typing import Any

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from apps.accounts.access import Access
from apps.accounts.models import Person
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
        token = live_token(words[1].decode("latin-1"))
        if token is None:
            raise AuthenticationFailed(
                "This token is unknown, expired or revoked.", code="bad_token"
            )
        token_touch(token=token)
        token.person.via = token.access
        return token.person, token.access

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="hardstand"'


class TokenScheme(OpenApiAuthenticationExtension):
    target_class = TokenAuthentication
    name = "token"

    def get_security_requirement(self, auto_schema: Any) -> dict[str, list[str]]:
        scope = getattr(auto_schema.view, "scopes", {}).get(auto_schema.method)
        return {self.name: [scope] if scope else []}

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {
            "type": "http",
            "scheme": "bearer",
            "description": "the `token` that POST /sessions answers with",
        }
