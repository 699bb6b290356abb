"""A real browser as phones have it, and the service as somebody runs it at home."""

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from server.demo.client import Client, over_http
from tests.appraisal.building import PARTICULARS
from tests.browser.line import Line
from tests.system.processes import free_port
from tests.system.test_embedded_jobs import PASSWORD, Embedded

AXE = (Path(__file__).parent / "vendor" / "axe-4.14.1.min.js").read_text()
RULES = ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
PHONE = {"width": 390, "height": 844}
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
        found = page.evaluate("(tags) => axe.run({ runOnly: tags })", RULES)
        faults = [
            (one["id"], [node["html"] for node in one["nodes"]]) for one in found["violations"]
        ]
        assert faults == [], (page.url, scheme)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), page.url
    page.emulate_media(color_scheme=None)
    page.set_viewport_size(size)


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
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
                "--use-fake-ui-for-media-stream",
                "--use-fake-device-for-media-stream",
            ],
        )
        yield browser
        browser.close()


@dataclass
class Yard:
    """The service, the line to it, and one boat to look at by whoever is signed in."""

    service: Embedded
    line: Line
    group: str
    boat: str
    days: Iterator[int] = field(default_factory=count)

    def api(self, name: str) -> Client:
        transport = over_http(self.service.address)
        return Client(transport).signed_in(f"{name.lower()}@example.org", PASSWORD)

    def visit(self, *names: str, **conditions: Any) -> str:
        """On a day of its own."""
        people = [self.api(name).get("/people/me")["id"] for name in names]
        starts_at = datetime.now(UTC) - timedelta(days=next(self.days))
        body = {"starts_at": starts_at.isoformat(), "people": people}
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
    service.manage(
        ["add_person", "ola@example.org", "Ola"],
        ["add_person", "ben@example.org", "Ben"],
        ["add_group", "Tern", "ola@example.org"],
    )
    with service.serving():
        ola = Client(over_http(service.address)).signed_in("ola@example.org", PASSWORD)
        ben = Client(over_http(service.address)).signed_in("ben@example.org", PASSWORD)
        (group,) = ola.pages("/groups")
        invitation = ola.post(
            f"/groups/{group['id']}/invitations", {"role": "buyer", "note": "Ben"}
        )
        ben.post("/acceptances", {"token": invitation["token"]})
        brief = {"currency": "EUR", "budget": {"amount": "40000", "currency": "EUR"}}
        made = ola.post(f"/groups/{group['id']}/lists", {"name": "Spring", "brief": brief})
        boat = ola.post(f"/lists/{made['id']}/candidates", {"name": "Heron", **PARTICULARS})
        line = Line("127.0.0.1", service.port)
        yield Yard(service, line, group["id"], boat["id"])
        line.shutdown()


class Phone:
    """One phone: its browser's store, and what a finger does."""

    def __init__(self, context: BrowserContext, yard: Yard) -> None:
        self.context, self.yard = context, yard
        self.faults: list[str] = []
        self.page = self.opened()

    def opened(self) -> Page:
        page = self.context.new_page()
        page.set_default_timeout(15_000)
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        return page

    def go(self, path: str) -> None:
        self.page.goto(self.yard.line.address + path)

    def sign_in(self, name: str, then: str = "/") -> None:
        self.go(f"/sign-in?next={then}")
        self.page.fill("[name=email]", f"{name.lower()}@example.org")
        self.page.fill("[name=password]", PASSWORD)
        self.page.locator("main button[type=submit]").click()
        self.page.wait_for_url(f"**{then}")

    def keep(self, visit: str) -> None:
        self.go(f"/visits/{visit}")
        self.tap("Keep this day on the phone")
        self.sees("Kept for")

    def tap(self, name: str) -> None:
        self.page.get_by_role("button", name=name, exact=True).first.click()

    def sees(self, text: str) -> None:
        self.page.get_by_text(text).first.wait_for()

    def comes_to(self, heading: str) -> None:
        """The step is drawn: it is read from the phone's store first."""
        self.page.get_by_role("heading", name=heading, exact=True).wait_for()

    @property
    def heading(self) -> str:
        return self.page.locator("#look h1").inner_text()

    def begin(self, visit: str, name: str, time: str = "15 minutes") -> None:
        self.go(f"/visits/{visit}/look")
        self.tap(f"I am {name}")
        self.tap("Go on")
        self.page.get_by_role("button", name=time).click()
        self.read()

    def read(self) -> None:
        """The cautions of a place, if they come first."""
        self.page.locator("#look h1").wait_for()
        if self.heading == "Before you look here":
            self.tap("I have read this")

    def level(self, n: int) -> None:
        self.page.locator(".levels button").nth(n).click()
        self.read()

    def die(self) -> None:
        """The page is gone without a word, and a new one is opened."""
        at = self.page.url
        self.page.close(run_before_unload=False)
        self.page = self.opened()
        self.page.goto(at)

    def finish(self) -> None:
        self.tap("All checks")
        self.tap("End the look")
        self.tap("Send")


@pytest.fixture
def phone(chromium, yard) -> Iterator[Callable[..., Phone]]:
    contexts = []
    phones = []

    def made(**options: Any) -> Phone:
        contexts.append(chromium.new_context(**{"viewport": PHONE, **options}))
        phones.append(Phone(contexts[-1], yard))
        return phones[-1]

    yield made
    yard.line.become("open")
    for context in contexts:
        context.close()
    assert [fault for one in phones for fault in one.faults] == []
