"""Sign-in by a cookie, for the service's own pages.

A sign-in is a token like any other, so ending the token ends the cookie too. The Django session
behind the cookie has the token's id; its secret is stored nowhere.
"""

from uuid import UUID

from django.http import HttpRequest
from django.middleware.csrf import rotate_token

from apps.accounts.models import Person, Token
from apps.accounts.selectors import live_token_by_id
from apps.accounts.services import session_create, sessions_end, token_revoke, token_touch

TOKEN_ID = "token_id"  # noqa: S105  (a key of the session)


def browser_sign_in(request: HttpRequest, person: Person, *, shared: bool = False) -> Token:
    """Sign this browser in as the person, and sign out anybody before.

    shared: others use the device too, so closing the browser signs out.
    """
    token, _ = session_create(person=person, name="a browser")
    # A new session key prevents session fixation.
    request.session.flush()
    request.session[TOKEN_ID] = str(token.pk)
    request.session.set_expiry(0 if shared else token.expires_at)
    rotate_token(request)
    return token


def browser_token(request: HttpRequest) -> Token | None:
    """The browser's token with its person, if it is still valid."""
    held = request.session.get(TOKEN_ID)
    token = None if held is None else live_token_by_id(UUID(held))
    if token is not None:
        token_touch(token=token)
        token.person.via = token.access
    return token


def browser_sign_out(request: HttpRequest, *, everywhere: bool = False) -> None:
    """Revoke the token and clear the browser's session.

    everywhere: also revoke the person's other sign-ins.
    """
    if (token := browser_token(request)) is not None:
        token_revoke(token=token)
        if everywhere:
            sessions_end(person=token.person)
    request.session.flush()
