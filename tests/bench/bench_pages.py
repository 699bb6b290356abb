"""How long a tap in a look takes on a slow phone, and how long the board page of the demo takes.

Run by name: python -m tests.bench.bench_pages. The demo is played; then its organiser looks at one
boat with all checks and 20 photos, in a browser whose processor is slowed six times. A tap lasts
from the finger to the next check on the screen. Wanted: under 100 ms for a tap, which feels
immediate (Nielsen 1993, chapter 5), and under 300 ms for the board page.

Baselines, timed in the same run: a tap on an empty page of the same service in the same slowed
browser, whose handler only changes a word; and that page itself, the sign-in.
"""

import io
import shutil
import statistics
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from PIL import Image
from playwright.sync_api import Page, sync_playwright

from server.demo.client import over_http
from server.demo.play import PASSWORD, Player
from server.demo.scenario import read_scenario
from server.demo.service import Folder, Service

SLOWER, TAPS, PHOTOS, LOADS = 6, 40, 20, 15
WANTED_TAP_MS, WANTED_BOARD_MS = 100, 300
STORY = Path(__file__).parents[2] / "fixtures" / "demo"
# Presses what the selector finds; done after the frame in which the page shows what follows.
TAP = """(selector) => new Promise((done) => {
    const at = performance.now();
    document.querySelector(selector).click();
    requestAnimationFrame(() => setTimeout(() => done(performance.now() - at)));
})"""
CHANGES_A_WORD = """() => {
    const h1 = document.querySelector("h1");
    h1.addEventListener("click", () => { h1.textContent = `tapped at ${performance.now()}`; });
}"""


def photo() -> dict[str, object]:
    """Some megabytes, as a phone takes it."""
    made = io.BytesIO()
    noise = np.random.default_rng(1).integers(0, 255, (1500, 2000, 3), dtype=np.uint8)
    Image.fromarray(noise).save(made, "JPEG", quality=80)
    return {"name": "keel.jpg", "mimeType": "image/jpeg", "buffer": made.getvalue()}


def page_load(page: Page, at: str) -> list[float]:
    """Milliseconds until the page is loaded, each time anew."""
    times = []
    for _ in range(LOADS):
        page.goto(at)
        times.append(page.evaluate("performance.getEntriesByType('navigation')[0].loadEventStart"))
    return times


def slowed(page: Page, times: int) -> None:
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": times})


def taps_in_a_look(page: Page, at: str) -> tuple[int, list[float]]:
    """The number of checks, and the milliseconds of each tap."""
    page.goto(at)
    page.get_by_role("button", name="I am").click()
    page.get_by_role("button", name="Go on").click()
    page.get_by_role("button", name="Everything").click()
    shot = photo()
    for _ in range(PHOTOS):
        read_cautions(page)
        page.set_input_files("#photo", shot)
        page.locator(".photos figure").first.wait_for()
        page.locator(".levels button").first.click()
    checks = int(page.locator(".who").inner_text().split(" of ")[1].split(",")[0])
    slowed(page, SLOWER)
    times = []
    for _ in range(TAPS):
        read_cautions(page)
        times.append(page.evaluate(TAP, ".levels button"))
    slowed(page, 1)
    return checks, times


def read_cautions(page: Page) -> None:
    page.locator("#look h1").wait_for()
    if page.locator("#look h1").inner_text() == "Before you look here":
        page.get_by_role("button", name="I have read this").click()


def said(what: str, times: list[float], wanted: float, baseline: list[float], named: str) -> None:
    middle, worst = statistics.median(times), max(times)
    ratio = middle / statistics.median(baseline)
    print(f"{what}: median {middle:.0f} ms, worst {worst:.0f} ms of {len(times)}")
    print(f"  wanted: {wanted} ms: {'met' if middle < wanted else 'NOT met'}")
    print(f"  baseline, {named}: {statistics.median(baseline):.0f} ms; ratio {ratio:.1f}")


def measure(service: Service, page: Page) -> None:
    story = read_scenario(STORY)
    organiser = story.organiser
    service.manage("add_person", organiser["email"], organiser["name"], HARDSTAND_PASSWORD=PASSWORD)
    service.manage("add_group", story.group["name"], organiser["email"])
    player = Player(story, over_http(service.address), lambda line: None)
    played = player.play()
    player.first.get(f"/lists/{played.list_id}/board?wait=30")
    visit = player.first.post(
        f"/candidates/{next(iter(played.boats.values()))}/viewings",
        {"starts_at": datetime.now(UTC).isoformat(), "conditions": {"where": "ashore"}},
    )

    page.goto(f"{service.address}/sign-in")
    page.evaluate(CHANGES_A_WORD)
    slowed(page, SLOWER)
    bare_taps = [page.evaluate(TAP, "h1") for _ in range(TAPS)]
    slowed(page, 1)
    bare_loads = page_load(page, f"{service.address}/sign-in")
    page.fill("[name=email]", organiser["email"])
    page.fill("[name=password]", PASSWORD)
    page.locator("main button[type=submit]").click()
    page.get_by_role("heading", name="Hello").wait_for()

    loads = page_load(page, f"{service.address}/lists/{played.list_id}")
    said("board page of the demo", loads, WANTED_BOARD_MS, bare_loads, "the page to sign in")
    checks, taps = taps_in_a_look(page, f"{service.address}/visits/{visit['id']}/look")
    said(
        f"a tap with {checks} checks and {PHOTOS} photos, processor slowed {SLOWER} times",
        taps,
        WANTED_TAP_MS,
        bare_taps,
        "a tap on an empty page, slowed as much",
    )


def main() -> None:
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        data = Folder(Path(folder) / "bench")
        data.prepare()
        service = Service(data, None)
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        context = browser.new_context(viewport={"width": 390, "height": 844})
        with service.running():
            measure(service, context.new_page())
        browser.close()


if __name__ == "__main__":
    main()
