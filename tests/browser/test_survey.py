"""The survey of a boat in a real browser: the vote, the commission, the report typed in."""

import os
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.appraisal.building import PARTICULARS
from tests.browser.conftest import DESK, well_made
from tests.system.test_embedded_jobs import pytestmark  # noqa: F401  (where it runs)


@pytest.fixture
def boat(yard) -> str:
    """A boat on a list of Ola's group, who alone buys."""
    ola = yard.api("Ola")
    group = ola.post("/groups", {"name": "Whimbrel"})["id"]
    ola.put(f"/groups/{group}/ledger", {"currency": "EUR"})
    brief = {"currency": "EUR", "budget": {"amount": "40000", "currency": "EUR"}}
    brief["exchange_rates"] = {"USD": "0.9"}
    listed = ola.post(f"/groups/{group}/lists", {"name": "Spring", "brief": brief})
    asking = {"asking": {"amount": "20000", "currency": "EUR"}}
    body = {"name": "Curlew", **PARTICULARS, **asking}
    return ola.post(f"/lists/{listed['id']}/candidates", body)["id"]


def unfold(page: Page, summary: str) -> None:
    page.locator("summary", has_text=summary).first.click()


def pictured(page: Page, name: str) -> None:
    """For people who look at it: SURVEY_PICTURES names a folder."""
    if folder := os.environ.get("SURVEY_PICTURES"):
        page.screenshot(path=Path(folder) / f"{name}.png", full_page=True)


@pytest.mark.parametrize("size", [None, DESK], ids=["phone", "desk"])
def test_from_the_vote_to_the_report(boat, phone, size):
    ola = phone(bypass_csp=True, **({"viewport": size} if size else {}))
    ola.sign_in("Ola")
    page = ola.page
    ola.go(f"/boats/{boat}/survey")
    pictured(page, f"empty-{size}")
    unfold(page, "Ask all buyers")
    page.fill("#field-vote-reason", "She leads")
    ola.tap("Open the vote")
    expect(page.locator("main")).to_contain_text("Nobody has voted yet")
    well_made(page)
    page.locator("#field-ballot-choice").select_option("yes")
    page.get_by_role("button", name="Vote", exact=True).click()
    expect(page.locator("main")).to_contain_text("Yours: yes")
    unfold(page, "Close the vote")
    ola.tap("Count and close")
    expect(page.locator("main")).to_contain_text("100% in favour")

    unfold(page, "Write down what you agreed")
    page.fill("#field-survey-surveyor", "The surveyor at the river mouth")
    page.fill("[id='field-survey-fee.amount']", "850")
    page.get_by_role("button", name="Keep it").last.click()
    expect(page.locator("main")).to_contain_text("no report yet")

    unfold(page, "Enter the report")
    form = page.locator("form[data-report]")
    form.get_by_label("Which report").fill("Report 31")
    form.get_by_label("When the professional looked").fill("2025-04-12T09:00")
    first = form.locator("[data-row]").nth(0)
    first.get_by_label("Which check").select_option("mainsail")
    form.get_by_role("button", name="Another finding").click()
    added = form.locator("[data-row]").nth(3)
    added.get_by_label("In the words of the report").fill("The cushions smell.")
    added.get_by_label("To be put right").select_option("when_convenient")
    pictured(page, f"form-{size}")
    # The first one lacks its level: the refusal stands at the row as it was typed.
    form.get_by_role("button", name="Enter the report").click()
    expect(first.locator(".error")).to_contain_text("Send the level")
    first.get_by_label("It is", exact=True).select_option("3")
    first.get_by_label("What was measured there").fill("9")
    first.get_by_label("Unit").fill("years")
    first.get_by_label("It may cost, from").fill("900")
    first.get_by_label("to", exact=True).fill("1600")
    form.get_by_role("button", name="Enter the report").click()
    expect(page.locator("main")).to_contain_text("The cushions smell.")
    expect(page.locator("main")).to_contain_text("900 to 1,600 EUR")
    unfold(page, "Write the fee into the common money")
    ola.tap("Write it down")
    expect(page.locator("main")).to_contain_text("Survey of Curlew, 850.00 EUR by Ola")
    pictured(page, f"made-{size}")
    well_made(page)
