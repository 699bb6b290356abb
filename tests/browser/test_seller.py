"""The page of a boat's seller in a real browser: an answer is written down and taken in."""

import os
from pathlib import Path

from tests.browser.conftest import DESK, well_made
from tests.system.test_embedded_jobs import pytestmark  # noqa: F401  (where it runs)


def pictured(page, name: str) -> None:
    """To look at: SELLER_PICTURES names a folder."""
    if folder := os.environ.get("SELLER_PICTURES"):
        page.screenshot(path=Path(folder) / f"{name}.png", full_page=True)


def test_an_answer_is_written_down(phone, yard):
    ola = phone()
    ola.sign_in("Ola")
    ola.go(f"/boats/{yard.boat}/seller")
    ola.comes_to("The seller of Heron")
    page = ola.page
    question = page.locator("li").filter(has_text="standing rigging last renewed").last
    question.locator("summary").click()
    question.get_by_label("What was answered").fill("In 2016, the bill is in the folder.")
    question.get_by_label("rigging", exact=False).first.fill("2016")
    question.get_by_label("Which of these it comes nearest to").select_option("1")
    question.get_by_label("Name", exact=True).fill("The owner")
    pictured(page, "phone-form")
    question.get_by_role("button", name="Keep the answer").click()
    page.get_by_text("Show what they change for her").wait_for()
    assert "standing rigging last renewed" not in page.locator("#questions").input_value()
    boat = yard.api("Ola").get(f"/candidates/{yard.boat}")
    assert (boat["rigging_year"], boat["sources"]["rigging_year"]) == (2016, "claimed")
    page.get_by_text("Show what they change for her").click()
    page.locator("section", has=page.locator("#changes")).get_by_text("no look").wait_for()
    well_made(page)
    pictured(page, "phone-whole")
    page.set_viewport_size(DESK)
    pictured(page, "desk")
