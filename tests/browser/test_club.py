"""The club in a real browser: a second opinion from asking to its answer, and a day out."""

from dataclasses import dataclass
from datetime import date, timedelta

import pytest
from playwright.sync_api import Page, expect

from server.demo.client import Client, over_http
from tests.appraisal.building import PARTICULARS
from tests.browser.conftest import DESK, Phone, Yard, well_made
from tests.browser.test_look import picture
from tests.system.test_embedded_jobs import PASSWORD, pytestmark  # noqa: F401  (where it runs)

QUESTION = "Is the keel joint as bad as it looks?"


@dataclass
class ClubYard:
    """Ola's group in a club with one boat, and Abe, who advises the club."""

    yard: Yard
    club: str
    list: str
    boat: str


@pytest.fixture(scope="module")
def club(yard) -> ClubYard:
    yard.service.manage(["add_person", "abe@example.org", "Abe"])
    ola, abe = yard.api("Ola"), yard.api("Abe")
    club = ola.post("/clubs", {"name": "Estuary Club"})
    body = {"role": "adviser", "note": "Abe"}
    invitation = ola.post(f"/clubs/{club['id']}/invitations", body)
    abe.post("/acceptances", {"token": invitation["token"]})
    group = ola.post("/groups", {"name": "Skua", "club_id": club["id"]})
    brief = {"currency": "EUR", "budget": {"amount": "40000", "currency": "EUR"}}
    rates = {"exchange_rates": {"USD": "0.9"}}
    listed = ola.post(f"/groups/{group['id']}/lists", {"name": "Autumn", "brief": brief | rates})
    asking = {"asking": {"amount": "20000", "currency": "EUR"}}
    boat = ola.post(
        f"/lists/{listed['id']}/candidates", {"name": "Petrel", **PARTICULARS, **asking}
    )
    return ClubYard(yard, club["id"], listed["id"], boat["id"])


@pytest.fixture
def checked(phone):
    """A phone whose pages the checker may enter."""

    def made(name: str, **options) -> Phone:
        made = phone(bypass_csp=True, **options)
        made.sign_in(name)
        return made

    return made


def unfold(page: Page, summary: str) -> None:
    page.locator("summary", has_text=summary).first.click()


def soon(days: int) -> str:
    return (date.today() + timedelta(days=days)).isoformat()


def test_a_second_opinion_from_asking_to_its_answer(club, checked):
    ola, abe = checked("Ola", viewport=DESK), checked("Abe")
    ola.go(f"/boats/{club.boat}")
    unfold(ola.page, "Ask the club's advisers")
    ola.page.fill("#field-opinion-question", QUESTION)
    ola.page.get_by_role("button", name="Ask", exact=True).click()
    ola.page.wait_for_url("**/second-opinions/*")
    well_made(ola.page)
    at = ola.page.url.rpartition("/")[2]

    abe.go(f"/club/{club.club}")
    expect(abe.page.locator("main")).not_to_contain_text("Petrel")
    well_made(abe.page)
    abe.page.get_by_role("button", name="Take it on").click()
    abe.page.wait_for_url(f"**/second-opinions/{at}")
    abe.page.fill("[name=starts_at]", f"{soon(0)}T09:30")
    unfold(abe.page, "How she will lie")
    abe.page.get_by_label("Ashore or afloat").select_option("ashore")
    well_made(abe.page)
    abe.tap("Plan your visit")
    abe.tap("Keep this day on the phone")
    abe.sees("Kept for Abe")
    well_made(abe.page)

    visit = abe.page.locator("[data-day]").get_attribute("data-day")
    club.yard.line.become("closed")
    abe.begin(visit, "Abe")
    abe.page.fill("#note", "A hair line, dry.")
    abe.page.set_input_files("#photo", picture())
    abe.level(1)
    abe.level(2)
    abe.finish()
    abe.sees("Kept on this phone")
    club.yard.line.become("open")
    abe.page.reload()  # what waits is sent by every page
    abe.comes_to("Sent")
    (sent,) = club.yard.sent("Ola", visit)
    assert (sent["author"]["name"], len(sent["findings"]), len(sent["photos"])) == ("Abe", 2, 1)

    abe.page.get_by_role("link", name="Answer the question").click()
    abe.sees("You have sent 1 look")
    abe.page.fill("#field-answer", "Dry, and old.")
    abe.tap("Answer and close")
    abe.page.wait_for_url(f"**/club/{club.club}")
    abe.go(f"/second-opinions/{at}")
    abe.sees("Not here, or not for you")
    ola.page.reload()
    expect(ola.page.locator("main")).to_contain_text("Dry, and old.")
    well_made(ola.page)


def test_what_was_not_sent_before_the_access_ended_says_so(club, checked):
    ola, abe = (
        Client(over_http(club.yard.service.address)).signed_in("ola@example.org", PASSWORD),
        checked("Abe"),
    )
    asked = ola.post(f"/lists/{club.list}/candidates", {"name": "Dunlin", **PARTICULARS})
    request = ola.post(
        f"/candidates/{asked['id']}/second-opinion-requests", {"question": "And this one?"}
    )
    taken = club.yard.api("Abe").post(f"/second-opinion-queue/{request['id']}/assignments", None)
    body = {"starts_at": f"{soon(0)}T11:00:00Z", "conditions": {"where": "ashore"}}
    club.yard.api("Abe").put(f"/assignments/{taken['id']}/visit", body)
    abe.go(f"/second-opinions/{request['id']}")
    visit = abe.page.locator("[data-day]").get_attribute("data-day")
    abe.begin(visit, "Abe")
    abe.level(1)
    ola.change("DELETE", f"/second-opinion-requests/{request['id']}", None)
    abe.finish()
    abe.comes_to("Refused")
    abe.sees("You may no longer look at this boat")
    assert club.yard.sent("Ola", visit) == []


def test_a_day_out_is_planned_agreed_and_kept(club, checked):
    ola = checked("Ola")
    ola.go(f"/boats/{club.boat}")
    unfold(ola.page, "Say where she lies")
    unfold(ola.page, "A place of her own on the map")
    ola.page.fill("[name='place.latitude']", "54.30")
    ola.page.fill("[name='place.longitude']", "10.20")
    ola.tap("Keep where she lies")
    said = ola.page.get_by_text("She is not on the map")
    said.wait_for(state="detached")

    ola.go(f"/lists/{club.list}/trips/new?cars=2")
    well_made(ola.page)
    ola.go(f"/lists/{club.list}/trips/new")
    ola.page.fill("[name=name]", "Round the estuary")
    ola.page.fill("[name=day]", soon(7))
    ola.page.fill("[name='parties.0.start.label']", "home")
    ola.page.fill("[name='parties.0.start.latitude']", "54.32")
    ola.page.fill("[name='parties.0.start.longitude']", "10.13")
    ola.page.fill("[name='parties.0.back_by']", "07:00")
    ola.tap("Work out the day")
    ola.sees("The return must be after the departure")
    ola.page.fill("[name='parties.0.back_by']", "17:00")
    ola.tap("Work out the day")
    ola.page.wait_for_url("**/trips/*")
    ola.page.get_by_role("button", name="Agree to these stops").wait_for(timeout=60_000)
    well_made(ola.page)
    ola.tap("Agree to these stops")
    ola.page.get_by_role("link", name="Look at Petrel").wait_for()
    ola.tap("Keep this day on the phone")
    ola.sees("Kept for Ola")
    well_made(ola.page)

    at = ola.page.url
    club.yard.line.become("closed")
    ola.page.goto(at)
    ola.page.get_by_role("link", name="Look at Petrel").click()
    ola.tap("I am Ola")
    ola.comes_to("How does she lie today?")


def test_a_visit_is_opened_to_the_club(club, checked):
    ola = checked("Ola")
    ola.go(f"/boats/{club.boat}/visits/new")
    ola.page.fill("[name=starts_at]", f"{soon(9)}T10:00")
    ola.tap("Plan this visit")
    ola.page.wait_for_url("**/visits/*")
    ola.page.fill("[name=room]", "2")
    well_made(ola.page)
    ola.tap("Open the day")
    ola.sees("room for 2 boats")
    well_made(ola.page)
    abe = checked("Abe")
    abe.go(f"/club/{club.club}")
    abe.sees("room for 2 more boats")
