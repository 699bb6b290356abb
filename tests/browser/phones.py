"""One phone: its browser's store, its clock, its line to the service, and what a finger does."""

import io
from typing import Any

from PIL import Image
from playwright.sync_api import BrowserContext, Page

from tests.browser.line import Line
from tests.system.test_embedded_jobs import PASSWORD

# The clock of a phone, set by a number of milliseconds that the phone remembers.
CLOCK = """() => {
    const Right = Date;
    const off = () => Number(localStorage.getItem("off") ?? 0);
    globalThis.Date = class extends Right {
        constructor(...given) { given.length ? super(...given) : super(Right.now() + off()); }
        static now() { return Right.now() + off(); }
    };
}"""

# Storing anything fails while the phone is full.
FULL = """(isFull) => {
    const store = IDBObjectStore.prototype;
    globalThis.real ??= { put: store.put, add: store.add, delete: store.delete };
    const refuse = () => { throw new DOMException("", "QuotaExceededError"); };
    for (const name of ["put", "add", "delete"]) store[name] = isFull ? refuse : real[name];
}"""


def picture(n_bytes: int = 0) -> dict[str, Any]:
    """A small JPEG, padded to this size."""
    made = io.BytesIO()
    Image.new("RGB", (64, 48), "grey").save(made, "JPEG")
    buffer = made.getvalue().ljust(n_bytes, b"\0")
    return {"name": "keel.jpg", "mimeType": "image/jpeg", "buffer": buffer}


class Phone:
    def __init__(self, context: BrowserContext, line: Line, host: str) -> None:
        self.context, self.line = context, line
        self.address = f"http://{host}:{line.port}"
        self.faults: list[str] = []
        self.found: dict[str, int] = {}  # the levels that were tapped, by the check's title
        self.page = self.opened()

    def opened(self) -> Page:
        page = self.context.new_page()
        page.set_default_timeout(30_000)
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        return page

    # --- The phone itself ---

    def set_clock(self, hours: float) -> None:
        """Shift the clock by so many hours, also in pages that are opened later."""
        self.page.evaluate("(ms) => localStorage.setItem('off', ms)", hours * 3_600_000)
        self.context.add_init_script(f"({CLOCK})()")
        self.page.evaluate(CLOCK)

    def has_room(self, n_bytes: int) -> None:
        """Limit the storage to so many bytes. Call it before the phone has stored anything."""
        cdp = self.context.new_cdp_session(self.page)
        quota = {"origin": self.address, "quotaSize": n_bytes}
        cdp.send("Storage.overrideQuotaForOrigin", quota)

    def become_full(self, is_full: bool = True) -> None:
        """From now on the page can store nothing more, or can again."""
        self.page.evaluate(FULL, is_full)

    def die(self) -> None:
        """The page is closed without warning, and a new one is opened."""
        at = self.page.url
        self.page.close(run_before_unload=False)
        self.page = self.opened()
        self.page.goto(at)

    # --- Pages ---

    def go(self, path: str) -> None:
        self.page.goto(self.address + path)

    def sign_in(self, name: str, then: str = "/") -> None:
        self.go(f"/sign-in?next={then}")
        self.page.fill("[name=email]", f"{name.lower()}@example.org")
        self.page.fill("[name=password]", PASSWORD)
        self.page.locator("main button[type=submit]").click()
        self.page.wait_for_url(f"**{then}")

    def tap(self, name: str) -> None:
        self.page.get_by_role("button", name=name, exact=True).first.click()

    def sees(self, text: str) -> None:
        self.page.get_by_text(text).first.wait_for()

    def comes_to(self, heading: str) -> None:
        """The step is drawn: it is read from the phone's store first."""
        self.page.get_by_role("heading", name=heading, exact=True).wait_for()

    # --- The look ---

    def keep(self, visit: str) -> None:
        self.go(f"/visits/{visit}")
        self.tap("Keep this day on the phone")
        self.sees("Kept for")

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
        self.found[self.heading] = n
        self.page.locator(".levels button").nth(n).click()
        self.read()

    def finish(self) -> None:
        self.tap("All checks")
        self.tap("End the look")
        self.tap("Send")
