"""The main journey, from the first evening to a board that is fresh, with a picture of each step.

The page "On Saturday" of the docs shows these pictures. Boats and people are invented.
"""

from collections.abc import Callable
from datetime import datetime

from playwright.sync_api import Page, expect

from tests.browser.phones import Phone

PASSED = "tidal stream 9"
BOATS = (("Heron", "24000", "9.6", "1988"), ("Plover", "19500", "9.1", "1984"))
YARD = "Mill Creek"
# Shows the page as it is: called with the page and the picture's name.
Show = Callable[[Page, str], None]


def journey(phone: Phone, start: str, show: Show) -> None:
    """start: the path of the link that the service prints when it is empty."""
    phone.go(start)
    first_evening(phone.page, show)
    board = phone.page.url
    boat = boats(phone.page, show)
    visit = before_leaving(phone.page, boat, show)
    phone.line.become("closed")
    in_the_yard(phone, visit, show)
    phone.line.become("open")
    in_the_evening(phone, visit, board, show)


def first_evening(page: Page, show: Show) -> None:
    fill(page, name="Ada", email="ada@example.org", password=PASSED)
    press(page, "Make my account")
    page.wait_for_url("**/groups/new?first=1")
    fill(page, name="The Thursday table")
    press(page, "Make the group")
    page.wait_for_url("**/lists/new?**")
    page.select_option('[name="brief.currency"]', "EUR")
    fill(page, name="Ten metres", brief__budget__amount="40000", brief__exchange_rates__USD="0.9")
    press(page, "Make the list")
    page.wait_for_url("**/settings?first=1#invite")
    fill(page, note="Ben")
    press(page, "Make a link")
    page.wait_for_function("() => document.querySelector('#invitation img')?.naturalWidth > 0")
    page.locator("#invitation").evaluate("(link) => link.scrollIntoView()")
    show(page, "invitation")
    page.goto(page.url.partition("/settings")[0])


def boats(page: Page, show: Show) -> str:
    """The address of the first boat's page."""
    board, added = page.url, []
    for name, asking, length, year in BOATS:
        page.goto(f"{board}/boats/new")
        fill(page, name=name, asking__amount=asking, loa_m=length, build_year=year)
        fill(page, place__yard=YARD)
        if not added:
            page.evaluate("scrollTo(0, 0)")
            show(page, "boat")
        press(page, "Add her")
        page.get_by_role("heading", name=name, exact=True).wait_for()
        added.append(page.url)
    return added[0]


def before_leaving(page: Page, boat: str, show: Show) -> str:
    """The id of the visit that is planned and kept."""
    page.goto(f"{boat}/visits/new")
    page.fill("[name=starts_at]", datetime.now().strftime("%Y-%m-%dT10:00"))
    page.select_option('[name="conditions.where"]', "ashore")
    page.select_option('[name="conditions.mast_state"]', "elsewhere")
    press(page, "Plan this visit")
    page.get_by_role("heading", name="Visit to Heron", exact=True).wait_for()
    visit = page.url.rpartition("/")[2]
    press(page, "Keep this day on the phone")
    page.get_by_text("Kept for").wait_for()
    page.locator("#looking").scroll_into_view_if_needed()
    show(page, "kept-day")
    return visit


def in_the_yard(phone: Phone, visit: str, show: Show) -> None:
    page = phone.page
    phone.go(f"/visits/{visit}/look")
    phone.tap("I am Ada")
    phone.comes_to("How does she lie today?")
    show(page, "conditions")
    phone.tap("Go on")
    phone.comes_to("How long have you got?")
    show(page, "time")
    page.get_by_role("button", name="15 minutes").click()
    phone.comes_to("Before you look here")
    show(page, "cautions")
    phone.read()
    page.locator(".levels").wait_for()
    show(page, "check")
    for level in (2, 0, 3):
        phone.level(level)
    phone.tap("Could not look")
    page.get_by_role("group", name="Why could you not look?").wait_for()
    show(page, "could-not-look")
    page.get_by_role("group", name="Why could you not look?").get_by_role("button").first.click()
    phone.read()
    phone.tap("All checks")
    phone.tap("End the look")
    phone.comes_to("End of the look")
    show(page, "end")
    phone.tap("Send")
    phone.sees("Kept; it goes by itself")
    show(page, "no-signal")


def in_the_evening(phone: Phone, visit: str, board: str, show: Show) -> None:
    phone.go("/outbox")
    phone.sees("Nothing: all that you found is with the service.")
    phone.go(f"/visits/{visit}/look")
    phone.comes_to("Sent")
    show(phone.page, "sent")
    phone.go(board.removeprefix(phone.address))
    expect(phone.page.get_by_text("Up to date").first).to_be_visible(timeout=90_000)
    show(phone.page, "board")


def fill(page: Page, **fields: str) -> None:
    for name, value in fields.items():
        page.fill(f'main [name="{name.replace("__", ".")}"]', value)


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).click()
