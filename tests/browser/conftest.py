"""A real browser as phones have it, and the service as somebody runs it at home."""

import os
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from server.demo.client import Client, over_http
from tests.appraisal.building import PARTICULARS
from tests.browser.line import Line
from tests.browser.phones import Phone
from tests.system.processes import free_port
from tests.system.test_embedded_jobs import PASSWORD, Embedded

AXE = (Path(__file__).parent / "vendor" / "axe-4.14.1.min.js").read_text()
RULES = ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
# Only violations are read, so what passed is not described: the rules that run are the same.
OPTIONS = {"runOnly": RULES, "reporter": "no-passes"}
PHONE = {"width": 390, "height": 844}
# This machine under another name, as in a network: plain HTTP is no secure context there.
PLAIN_HOST = "yard.test"
DESK = {"width": 1280, "height": 900}


def well_made(page: Page) -> None:
    """axe-core finds no fault in light and dark, and the page does not scroll sideways.

    All is unfolded, in a window as tall as the page, so that nothing is half under its edge.
    """
    size = page.viewport_size
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    height = page.evaluate("document.documentElement.scrollHeight")
    page.set_viewport_size({"width": size["width"], "height": height + 200})
    page.evaluate(AXE)
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        found = page.evaluate("(options) => axe.run(options)", OPTIONS)
        faults = [
            (one["id"], [node["html"] for node in one["nodes"]]) for one in found["violations"]
        ]
        assert faults == [], (page.url, scheme)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), page.url
    page.emulate_media(color_scheme=None)
    page.set_viewport_size(size)


@pytest.fixture(scope="module")
def django_from_its_thread() -> Iterator[None]:
    """Playwright leaves an event loop in this thread, where Django then refuses to ask a database.

    Nothing is done at once here: a test waits for its browser, and the browser's loop for the test.
    """
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        yield


@pytest.fixture(scope="module")
def chromium(django_from_its_thread) -> Iterator[Browser]:
    at = shutil.which("chromium")
    if at is None:
        why = "no Chromium is installed on this machine"
        if os.environ.get("HARDSTAND_CI"):
            pytest.fail(why)
        pytest.skip(why)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=at,
            args=[
                "--no-sandbox",
                f"--host-resolver-rules=MAP {PLAIN_HOST} 127.0.0.1",
                "--use-fake-ui-for-media-stream",
                "--use-fake-device-for-media-stream",
            ],
        )
        yield browser
        browser.close()


@contextmanager
def served_empty(folder: Path, migrated: Callable[[Path], None]) -> Iterator[Embedded]:
    """The service as it is started for the first time."""
    service = Embedded(folder, free_port())
    migrated(service.folder / "hardstand.sqlite3")
    with service.serving():
        yield service


def start_of(service: Embedded) -> str:
    """The link that it prints."""
    return re.search(r"http://\S+/start/hso_[\w-]+", (service.folder / "log").read_text())[0]


def make_people(service: Embedded, *names: str) -> None:
    service.manage(*(["add_person", f"{name.lower()}@example.org", name] for name in names))


@contextmanager
def allowing(host: str) -> Iterator[None]:
    """The service that is started now answers by this name, too."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("ALLOWED_HOSTS", host)
        yield


def client_of(service: Embedded, name: str) -> Client:
    return Client(over_http(service.address)).signed_in(f"{name.lower()}@example.org", PASSWORD)


def make_group(service: Embedded, organiser: str, *buyers: str) -> tuple[str, str]:
    """The ids of a group and of its list."""
    client = client_of(service, organiser)
    group = client.post("/groups", {"name": "Tern"})["id"]
    for name in buyers:
        body = {"role": "buyer", "note": name}
        invitation = client.post(f"/groups/{group}/invitations", body)
        client_of(service, name).post("/acceptances", {"token": invitation["token"]})
    brief = {"currency": "EUR", "budget": {"amount": "40000", "currency": "EUR"}}
    made = client.post(f"/groups/{group}/lists", {"name": "Spring", "brief": brief})
    return group, made["id"]


@dataclass
class Yard:
    """The service, the line to it, and one boat to look at by whoever is signed in."""

    service: Embedded
    line: Line
    group: str
    boat: str
    days: Iterator[int] = field(default_factory=count)

    def api(self, name: str) -> Client:
        return client_of(self.service, name)

    def visit(self, *names: str, kind: str = "visit", **conditions: Any) -> str:
        """On a day of its own."""
        people = [self.api(name).get("/people/me")["id"] for name in names]
        starts_at = datetime.now(UTC) - timedelta(days=next(self.days))
        body = {"kind": kind, "starts_at": starts_at.isoformat(), "people": people}
        planned = self.api(names[0]).post(
            f"/candidates/{self.boat}/viewings", {**body, "conditions": conditions}
        )
        return str(planned["id"])

    def sent(self, name: str, visit: str) -> list[dict[str, Any]]:
        return list(self.api(name).pages(f"/viewings/{visit}/submissions"))


@pytest.fixture(scope="module")
def yard(chromium, tmp_path_factory, migrated) -> Iterator[Yard]:
    service = Embedded(tmp_path_factory.mktemp("yard"), free_port())
    migrated(service.folder / "hardstand.sqlite3")
    make_people(service, "Ola", "Ben")
    with allowing(PLAIN_HOST), service.serving():
        group, list_id = make_group(service, "Ola", "Ben")
        boat = client_of(service, "Ola").post(
            f"/lists/{list_id}/candidates", {"name": "Heron", **PARTICULARS}
        )
        line = Line("127.0.0.1", service.port)
        yield Yard(service, line, group, boat["id"])
        line.shutdown()


@pytest.fixture
def phone(chromium, yard) -> Iterator[Callable[..., Phone]]:
    with phones_of(chromium) as made:
        yield partial(made, yard.line)
    yard.line.become("open")
    yard.line.becomes_in_answers = None


@contextmanager
def phones_of(browser: Browser) -> Iterator[Callable[..., Phone]]:
    """Makes phones; in the end no script of their pages has failed."""
    phones: list[Phone] = []

    def made(line: Line, host: str = "127.0.0.1", **options: Any) -> Phone:
        context = browser.new_context(**{"viewport": PHONE, **options})
        phones.append(Phone(context, line, host))
        return phones[-1]

    yield made
    for one in phones:
        one.context.close()
    assert [fault for one in phones for fault in one.faults] == []
