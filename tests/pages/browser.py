"""A browser for tests: it keeps cookies, sends its origin, and parses pages."""

import json
import re
from html.parser import HTMLParser
from typing import Any

from django.contrib.sessions.backends.db import SessionStore
from django.http import HttpRequest
from django.test import Client

from apps.accounts.browsers import browser_sign_in
from tests.conftest import Speaker

OWN = "http://testserver"


class Browser:
    """A browser, signed in as one person or not."""

    def __init__(self, who: Speaker | None = None) -> None:
        self.client = Client(enforce_csrf_checks=True)
        if who is not None:
            self.sign_in(who)

    def sign_in(self, who: Speaker) -> None:
        """Sign in with the function that the sign-in page uses."""
        request = HttpRequest()
        request.session = SessionStore()
        browser_sign_in(request, who.person)
        request.session.save()
        self.client.cookies["sessionid"] = request.session.session_key
        self.client.get("/lists/new")  # and get the token for its forms: this page costs little

    @property
    def csrf(self) -> str:
        return self.client.cookies["csrftoken"].value

    @property
    def form_headers(self) -> dict[str, str]:
        return {"Origin": OWN, "X-CSRFToken": self.csrf}

    def get(self, path: str, **headers: str) -> Any:
        return self.client.get(path, headers={"Accept": "text/html", **headers})

    def write(self, method: str, path: str, body: Any = None, **headers: str) -> Any:
        """Send a write as `api.js` does."""
        sent = {**self.form_headers, "Sec-Fetch-Site": "same-origin"}
        sent |= {name.replace("_", "-"): value for name, value in headers.items()}
        return self.client.generic(
            method,
            f"/api/v1{path}",
            "" if body is None else json.dumps(body),
            content_type="application/json",
            headers={name: value for name, value in sent.items() if value},
        )

    def submit(self, path: str, fields: dict[str, Any]) -> Any:
        """Send a form as a browser without scripts does, with the token of the page."""
        page = self.get(path).content.decode()
        token = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page)
        return self.client.post(path, {**fields, "csrfmiddlewaretoken": token[1] if token else ""})


class Inline(HTMLParser):
    """A page's inline scripts and styles, and the other hosts it loads from."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.inside = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.inside = tag if tag in ("script", "style") else ""
        for name, value in attrs:
            text = (value or "").strip().lower()
            if name.startswith("on") or name == "style" or text.startswith("javascript:"):
                self.found.append(f"<{tag} {name}={value}>")
            if name in ("src", "href") and re.match(r"(\w+:)?//", text):
                self.found.append(f"<{tag} {name}={value}>")

    def handle_data(self, data: str) -> None:
        if self.inside and data.strip():
            self.found.append(f"<{self.inside}>{data}")

    def handle_endtag(self, tag: str) -> None:
        self.inside = ""


def inline_in(page: str) -> list[str]:
    parser = Inline()
    parser.feed(page)
    return parser.found


class Forms(HTMLParser):
    """The forms that are sent to the API: what each sends to, and the names of its fields."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[str, str, list[str]]] = []
        self.inside = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        if tag == "form":
            self.inside = "data-api" in said
            if self.inside:
                method, _, path = (said["data-api"] or "").partition(" ")
                self.found.append((method, path.partition("?")[0], []))
        elif tag in ("input", "select", "textarea") and self.inside and said.get("name"):
            name = str(said["name"])
            if name == "csrfmiddlewaretoken" or said.get("data-type") == "currency":
                return  # `forms.js` leaves them out, too
            self.found[-1][2].append(name)
            if "data-currency" in said or "data-currency-of" in said:
                self.found[-1][2].append(name.replace(".amount", ".currency"))


def forms_in(page: str) -> list[tuple[str, str, list[str]]]:
    parser = Forms()
    parser.feed(page)
    return parser.found
