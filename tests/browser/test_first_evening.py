"""The first evening in a real browser: from an empty service to a second person who joined."""

import re
from collections.abc import Iterator
from urllib.parse import urljoin

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import DESK, PHONE, served_empty, start_of, well_made
from tests.browser.journey import PASSED, fill, press
from tests.system.test_embedded_jobs import Embedded, pytestmark  # noqa: F401  (where it runs)
from tests.viewings.media import picture


@pytest.fixture
def empty(tmp_path, migrated) -> Iterator[Embedded]:
    with served_empty(tmp_path, migrated) as service:
        yield service


@pytest.fixture(scope="module")
def settings_page(chromium, tmp_path_factory, migrated) -> Iterator[Page]:
    """Somebody with a group and a list, at its settings."""
    with served_empty(tmp_path_factory.mktemp("begun"), migrated) as service:
        page = page_of(chromium, DESK)
        page.goto(start_of(service))
        fill(page, name="Ada", email="ada@example.org", password=PASSED)
        press(page, "Make my account")
        fill(page, name="Tern")
        press(page, "Make the group")
        page.wait_for_url("**/lists/new?**")
        fill(page, name="Ten metres", brief__budget__amount="40000")
        press(page, "Make the list")
        page.wait_for_url("**/settings?first=1#invite")
        page.goto(page.url.partition("?")[0])
        yield page


def page_of(chromium: Browser, size: dict[str, int], **options: object) -> Page:
    # The pages' content policy keeps the checker out, so it is switched off.
    page = chromium.new_context(viewport=size, bypass_csp=True, **options).new_page()
    page.set_default_timeout(15_000)
    return page


def test_from_the_link_to_the_second_person(chromium, empty):
    ada = page_of(chromium, PHONE)
    ada.goto(start_of(empty))
    well_made(ada)
    fill(ada, name="Ada", email="ada@example.org", password=PASSED)
    press(ada, "Make my account")

    ada.wait_for_url("**/groups/new?first=1")
    well_made(ada)
    fill(ada, name="Tern")
    press(ada, "Make the group")

    ada.wait_for_url("**/lists/new?**")
    make_list(ada)

    ada.wait_for_url("**/settings?first=1#invite")
    well_made(ada)
    fill(ada, note="Ben")
    press(ada, "Make a link")
    link = ada.locator("#invitation output")
    expect(link).to_contain_text("/join/hsi_")
    ada.wait_for_function("document.querySelector('#invitation img').naturalWidth > 0")
    well_made(ada)

    ben = page_of(chromium, DESK, color_scheme="dark", timezone_id="Europe/Lisbon")
    ben.goto(link.inner_text())
    expect(ben.locator("main")).to_contain_text("Ada invites you to the group Tern as buyer")
    well_made(ben)
    fill(ben, name="Ben", email="ben@example.org", password=PASSED)
    press(ben, "Make my account and join")
    expect(ben.locator("main")).to_contain_text("Ten metres")
    well_made(ben)
    ben.goto(f"{empty.address}/me")
    expect(ben.locator("[name=time_zone]")).to_have_value("Europe/Lisbon")
    well_made(ben)


def make_list(page: Page) -> None:
    """A refusal is shown beside its field, which gets the focus; then it is corrected."""
    rate = page.locator('[name="brief.exchange_rates.USD"]')
    expect(rate).to_be_hidden()  # the catalogue's own currency is chosen at first
    page.select_option('[name="brief.currency"]', "EUR")
    expect(rate).to_be_visible()
    well_made(page)
    fill(page, name="Ten metres", brief__budget__amount="-1", brief__exchange_rates__USD="0")
    press(page, "Make the list")
    budget = page.locator('[name="brief.budget.amount"]')
    expect(budget).to_be_focused()
    expect(budget).to_have_attribute("aria-invalid", "true")
    expect(rate).to_have_accessible_description(re.compile("A rate is more than 0"))
    well_made(page)
    fill(page, brief__budget__amount="40000", brief__exchange_rates__USD="0.9")
    press(page, "Make the list")


def test_settings_are_kept_and_two_who_change_them_are_told(settings_page):
    page = settings_page
    other = page.context.new_page()
    other.goto(page.url)
    fill(page, brief__budget__amount="45000")
    press(page, "Keep these settings")
    expect(page.locator('[name="brief.budget.amount"]')).to_have_value("45000.00")
    fill(other, brief__budget__amount="50000")
    press(other, "Keep these settings")
    expect(other.get_by_role("alert").first).to_contain_text("Load this page again")
    other.reload()
    expect(other.locator('[name="brief.budget.amount"]')).to_have_value("45000.00")


def test_a_boat_comes_with_photos_from_her_advert(settings_page):
    page = settings_page.context.new_page()
    page.set_viewport_size(PHONE)
    page.goto(settings_page.url.replace("/settings", "/boats/new"))
    well_made(page)
    fill(page, name="Heron", loa_ft="33.5")
    page.get_by_label("Bolted fin").check()
    page.set_input_files(
        "input[type=file]",
        [
            {"name": f"{n}.jpg", "mimeType": "image/jpeg", "buffer": picture(size=(640, 480))}
            for n in range(2)
        ],
    )
    press(page, "Add her")
    page.wait_for_url(re.compile(r"/boats/[0-9a-f-]{36}$"))
    photos = page.locator("#seller-photos ~ ul li")
    expect(photos).to_have_count(2)
    for _ in range(60):  # until both were read
        if page.locator("#seller-photos ~ ul img").count() == 2:
            break
        page.wait_for_timeout(500)
        page.reload()
    well_made(page)
    photos.first.get_by_role("link").click()
    dialog = page.get_by_role("dialog")
    expect(dialog.locator("p")).to_contain_text("1 of 2: From an advert")
    page.keyboard.press("ArrowRight")
    expect(dialog.locator("p")).to_contain_text("2 of 2")
    dialog.get_by_role("button", name="Close").click()
    expect(photos.last.get_by_role("link")).to_be_focused()
    photos.last.get_by_role("button", name="Remove").click()
    expect(photos).to_have_count(1)
    page.close()


def test_with_scripts_off_one_signs_in_and_reads_and_is_told_what_cannot_be_done(
    chromium, settings_page
):
    address = settings_page.url
    page = page_of(chromium, PHONE, java_script_enabled=False)
    page.goto(address)
    fill(page, email="ada@example.org", password=PASSED)
    press(page, "Sign in")
    assert page.url == address
    expect(page.locator("h1")).to_contain_text("Ten metres")
    press(page, "Keep these settings")
    expect(page.locator("main")).to_contain_text("Nothing was stored")
    page.goto(urljoin(address, "/"))
    press(page, "Sign out")
    expect(page.locator("h1")).to_have_text("Look at boats together")
