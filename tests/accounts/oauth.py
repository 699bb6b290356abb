"""A program that uses the authorization code flow with PKCE, step by step."""

import base64
import hashlib
import re
import secrets
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

from django.test import Client

from apps.accounts.models import Person, Program
from apps.accounts.program_services import program_register
from tests.conftest import Speaker

CALLBACK = "https://gauge.example.org/back"
PASSWORD = "tidal stream 9"


def challenge_of(verifier: str) -> str:
    """RFC 7636 section 4.2: BASE64URL(SHA256(ASCII(verifier))), without padding."""
    return base64.urlsafe_b64encode(hashlib.sha256(verifier.encode()).digest()).decode().rstrip("=")


@dataclass
class Gauge:
    """A program called Gauge, used by one member with their own browser."""

    program: Program
    secret: str
    browser: Client = field(default_factory=Client)
    verifier: str = field(default_factory=lambda: secrets.token_urlsafe(48))

    def asking(self, **changed: Any) -> str:
        """The address to which the program sends the member."""
        asked = {
            "response_type": "code",
            "client_id": self.program.client_id,
            "redirect_uri": CALLBACK,
            "scope": "lists:read findings:write",
            "state": "s1",
            "code_challenge": challenge_of(self.verifier),
            "code_challenge_method": "S256",
        } | changed
        return "/oauth/authorize?" + urlencode({k: v for k, v in asked.items() if v is not None})

    def sign_in(self, email: str, password: str = PASSWORD, at: str = "/oauth/sign-in") -> Any:
        return self.browser.post(at, {"email": email, "password": password, **next_of(at)})

    def answer(self, address: str, *, allow: bool = True) -> Any:
        """Press one of the two buttons on the consent page."""
        page = self.browser.get(address)
        assert page.status_code == 200, page.content
        return self.browser.post(address, hidden_in(page) | ({"allow": "true"} if allow else {}))

    def code(self, **changed: Any) -> str:
        return returned(self.answer(self.asking(**changed)))["code"]

    def token(self, **sent: Any) -> Any:
        body = {"client_id": self.program.client_id, "client_secret": self.secret, **sent}
        return Client().post("/oauth/token", {k: v for k, v in body.items() if v is not None})

    def exchange(self, code: str, **changed: Any) -> Any:
        return self.token(
            grant_type="authorization_code",
            **{
                "code": code,
                "redirect_uri": CALLBACK,
                "code_verifier": self.verifier,
                **changed,
            },
        )

    def refresh(self, refresh_token: str, **changed: Any) -> Any:
        return self.token(grant_type="refresh_token", refresh_token=refresh_token, **changed)

    def tokens(self, email: str, **changed: Any) -> dict[str, Any]:
        """The tokens from the whole flow, with the person's consent."""
        self.sign_in(email)
        given = self.exchange(self.code(**changed))
        assert given.status_code == 200, given.content
        return given.json()


def next_of(address: str) -> dict[str, str]:
    return {name: values[0] for name, values in parse_qs(urlsplit(address).query).items()}


def returned(answer: Any) -> dict[str, str]:
    """What the program gets when the member comes back to it."""
    assert answer.status_code == 302, answer.content
    assert answer["Location"].startswith(CALLBACK), answer["Location"]
    return next_of(answer["Location"])


def hidden_in(page: Any) -> dict[str, str]:
    """The hidden fields of a form."""
    return dict(
        re.findall(r'<input type="hidden" name="(\w+)"(?: value="([^"]*)")?', text_of(page))
    )


def text_of(page: Any) -> str:
    return page.content.decode()


def gauge(scopes: tuple[str, ...] = ("lists:read", "findings:write"), **changed: Any) -> Gauge:
    made = program_register(name="Gauge", redirect_uris=[CALLBACK], scopes=scopes, **changed)
    return Gauge(made.program, made.secret)


def with_password(speaker: Speaker) -> str:
    """Give somebody of the cast a password; returns their email."""
    person = Person.objects.get(pk=speaker.person.pk)
    person.set_password(PASSWORD)
    person.save()
    return person.email
