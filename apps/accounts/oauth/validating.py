"""Connects the OAuth 2 library to this service's programs, scopes and tokens."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction
from oauth2_provider.models import RefreshToken, get_access_token_model
from oauth2_provider.oauth2_validators import OAuth2Validator
from oauth2_provider.scopes import BaseScopes
from oauthlib.common import Request
from oauthlib.oauth2 import InvalidGrantError

from apps.accounts.models import Person, Program, SpentCode
from apps.accounts.program_services import code_used_again
from apps.accounts.scopes import SCOPES
from apps.accounts.secrets import digest, new_secret
from apps.common.prepared import PreparedRecord


def token_generate(request: Request, refresh_token: bool = False) -> str:
    return new_secret("hso")


def refresh_token_generate(request: Request, refresh_token: bool = True) -> str:
    return new_secret("hsr")


class ProgramScopes(BaseScopes):  # type: ignore[misc]  # the library has no types
    """A program gets at most the scopes that it was registered for."""

    def get_all_scopes(self) -> Mapping[str, str]:
        return SCOPES

    def get_available_scopes(
        self, application: Program | None = None, *_: Any, **__: Any
    ) -> Sequence[str]:
        return list(SCOPES) if application is None else application.allowed_scopes

    def get_default_scopes(
        self, application: Program | None = None, *_: Any, **__: Any
    ) -> Sequence[str]:
        """A group's program gets its organiser's choice by default; others must name scopes."""
        return application.allowed_scopes if application and application.account else []


class ProgramValidator(OAuth2Validator):  # type: ignore[misc]  # the library has no types
    """Only active people, no token without scopes, codes stored as digests like all secrets, and
    tokens from a code end when it is used again."""

    def validate_scopes(self, client_id: str, scopes: Sequence[str], *args: Any, **kw: Any) -> bool:
        return bool(scopes) and super().validate_scopes(client_id, scopes, *args, **kw)

    def validate_code(
        self, client_id: str, code: str, client: Program, request: Request, *args: Any, **kw: Any
    ) -> bool:
        valid = super().validate_code(client_id, code, client, request, *args, **kw)
        if not valid:
            code_used_again(program=client, code=code)
        return valid and is_active(request.user)

    def validate_refresh_token(
        self, refresh_token: str, client: Program, request: Request, *args: Any, **kw: Any
    ) -> bool:
        valid = super().validate_refresh_token(refresh_token, client, request, *args, **kw)
        return valid and is_active(request.user)

    def invalidate_authorization_code(
        self, client_id: str, code: str, request: Request, *args: Any, **kwargs: Any
    ) -> None:
        try:
            with transaction.atomic():
                super().invalidate_authorization_code(client_id, code, request, *args, **kwargs)
                SpentCode.objects.create(
                    code=code, program=request.client, token_family=request.token_family
                )
        except InvalidGrantError:  # another request has just used it
            RefreshToken.revoke_family(request.token_family)
            code_used_again(program=request.client, code=code)
            raise

    def _create_refresh_token(self, request: Request, *args: Any, **kwargs: Any) -> Any:
        made = super()._create_refresh_token(request, *args, **kwargs)
        request.token_family = made.token_family
        return made

    def _create_authorization_code(
        self, request: Request, code: dict[str, str], expires: Any = None
    ) -> Any:
        # The token endpoint looks the code up by its digest.
        return super()._create_authorization_code(request, {"code": digest(code["code"])}, expires)

    def _load_access_token(self, token: str) -> Any:
        return _ACCESS_TOKEN(digest(token))


# Every request of a program asks this.
_ACCESS_TOKEN = PreparedRecord(
    get_access_token_model(),
    ("application", "application__account", "user"),
    lambda checksum: get_access_token_model().objects.filter(token_checksum=checksum),
    str,
)


def is_active(person: Person | None) -> bool:
    return person is not None and person.is_active
