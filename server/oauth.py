"""How other programs get access by OAuth 2 (django-oauth-toolkit).

Set by its security best current practice (RFC 9700): no implicit and no password grant, always
PKCE by S256, tokens stored as digests, and a refresh token used twice ends its family.
"""

from typing import Any

from apps.accounts.scopes import SCOPES

SETTINGS: dict[str, Any] = {
    "SCOPES": SCOPES,
    "SCOPES_BACKEND_CLASS": "apps.accounts.oauth.validating.ProgramScopes",
    "OAUTH2_VALIDATOR_CLASS": "apps.accounts.oauth.validating.ProgramValidator",
    "ACCESS_TOKEN_GENERATOR": "apps.accounts.oauth.validating.token_generate",
    "REFRESH_TOKEN_GENERATOR": "apps.accounts.oauth.validating.refresh_token_generate",
    "CLIENT_SECRET_HASHER": "sha256_secret",
    "APPLICATION_ADMIN_CLASS": "apps.accounts.admin.ProgramAdmin",
    "ACCESS_TOKEN_EXPIRE_SECONDS": 3600,
    "REFRESH_TOKEN_EXPIRE_SECONDS": 90 * 24 * 3600,
    "REFRESH_TOKEN_REUSE_PROTECTION": True,
    "ALLOWED_REDIRECT_URI_SCHEMES": ["https"],
    "OAUTH2_RESPONSE_TYPES_SUPPORTED": ["code"],
    "OAUTH2_GRANT_TYPES_SUPPORTED": ["authorization_code", "client_credentials", "refresh_token"],
    "OAUTH2_TOKEN_ENDPOINT_AUTH_METHODS_SUPPORTED": [
        "client_secret_basic",
        "client_secret_post",
        "none",
    ],
    "COMPLIANT_BCP_RFC9700_IMPLICIT_GRANT": True,
    "COMPLIANT_BCP_RFC9700_PASSWORD_GRANT": True,
    "COMPLIANT_BCP_RFC9700_PKCE_METHOD": True,
    "COMPLIANT_BCP_RFC9700_PKCE_REQUIRED": True,
    "COMPLIANT_BCP_RFC9700_ACCESS_TOKEN_TRANSPORT": True,
    "COMPLIANT_BCP_RFC9700_AUTHZ_RESPONSE_ISS": True,
    "COMPLIANT_BCP_RFC9700_TOKEN_STORAGE": True,
    "COMPLIANT_BCP_RFC9700_REFRESH_TOKEN": True,
    "COMPLIANT_BCP_RFC9700_REDIRECT_URI_SCHEME": True,
    "COMPLIANT_BCP_RFC9700_REDIRECT_URI_MATCHING": True,
}
