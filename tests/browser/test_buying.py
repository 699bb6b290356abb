"""What goes with buying a boat, on a phone: documents of gates, an offer and its conditions."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import DESK, well_made
from tests.browser.phones import picture
from tests.system.test_embedded_jobs import pytestmark  # noqa: F401  (where it runs)
from tests.viewings.media import paper


@pytest.fixture
def boat(yard) -> str:
    """A boat on a list of Ola's group, surveyed, with her report entered."""
    ola = yard.api("Ola")
    group = ola.post("/groups", {"name": "Whimbrel"})["id"]
    brief = {"currency": "EUR", "budget": {"amount": "40000", "currency": "EUR"}}
    listed = ola.post(f"/groups/{group}/lists", {"name": "Spring", "brief": brief})
    made = ola.post(f"/lists/{listed['id']}/candidates", {"name": "Curlew"})["id"]
    survey = ola.post(f"/candidates/{made}/surveys", {"kind": "hull", "surveyor": "A. Surveyor"})
    report = {
        "document": "Report 12",
        "looked_at": "2025-03-01T10:00:00Z",
        "findings": [{"words": "Fair for her age"}],
    }
    ola.post(f"/surveys/{survey['id']}/reports", report)
    return made


@pytest.mark.parametrize("size", [None, DESK], ids=["phone", "desk"])
def test_documents_stand_with_their_gate(boat, yard, phone, size):
    ola = phone(bypass_csp=True, **({"viewport": size} if size else {}))
    ola.sign_in("Ola")
    page = ola.page

    def debts():
        ola.go(f"/boats/{boat}")
        gate = page.locator("#gates ~ ul > li", has_text="Debts on her")
        gate.locator("summary").first.click()
        return gate

    gate = debts()
    gate.locator("summary", has_text="Attach documents").click()
    pdf = {"name": "extract.pdf", "mimeType": "application/pdf", "buffer": paper()}
    gate.locator("input[type=file]").set_input_files([picture(), pdf])
    gate.get_by_label("What they are").fill("Extract of 12 May")
    gate.get_by_role("button", name="Attach them").click()
    expect(page.locator("#gates ~ ul")).to_contain_text("2 documents")
    for _ in range(60):  # until both were read
        gate = debts()
        if gate.locator(".photos a").count() == 2:
            break
        page.wait_for_timeout(500)
    well_made(page)
    with page.expect_download() as saved:
        gate.get_by_role("link", name="Extract of 12 May (PDF)").click()
    assert saved.value.suggested_filename.endswith(".pdf")
    gate.locator(".photos a:has(img)").click()
    expect(page.get_by_role("dialog").locator("img")).to_have_js_property("complete", True)
    page.get_by_role("dialog").get_by_role("button", name="Close").click()
    gate.get_by_role("button", name=re.compile("Remove")).first.click()
    expect(page.locator("#gates ~ ul")).to_contain_text("1 document")

    survey = page.locator("#gates ~ ul > li", has_text="Report 12, by A. Surveyor")
    survey.locator("summary").first.click()
    survey.get_by_role("button", name="All of us read it").click()
    expect(page.locator("main")).to_contain_text("settled by A. Surveyor")
    gate_said = yard.api("Ola").get(f"/candidates/{boat}/gates/survey")
    assert (gate_said["settled"], gate_said["document"]) == (True, "Report 12")


@pytest.mark.parametrize("size", [None, DESK], ids=["phone", "desk"])
def test_an_offer_with_the_days_of_its_conditions(boat, yard, phone, size):
    ola = phone(bypass_csp=True, **({"viewport": size} if size else {}))
    ola.sign_in("Ola")
    page = ola.page
    ola.go(f"/boats/{boat}/offers")
    page.locator("summary", has_text="Write down a price").click()
    page.fill("[id='field-new-price.amount']", "17500")
    page.fill("#new-survey-until", "2035-05-20")
    page.fill("#new-title-until", "2035-05-21")
    page.uncheck("#new-title")
    expect(page.locator("#new-title-until")).to_be_hidden()
    expect(page.locator("#new-finance-until")).to_be_hidden()
    well_made(page)
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator("main")).to_contain_text("a survey that satisfies us by 20 May 2035")
    (offer,) = yard.api("Ola").pages(f"/candidates/{boat}/offers")
    assert offer["conditions"] == [
        {"code": "survey", "until": "2035-05-20"},
        {"code": "sea_trial", "until": None},
    ]


def test_a_refused_day_of_a_condition_is_told_beside_it(boat, phone):
    """Of the boxes, only those that are ticked are sent: the first line is the second box here."""
    ola = phone()
    ola.sign_in("Ola")
    page = ola.page
    ola.go(f"/boats/{boat}/offers")
    page.locator("summary", has_text="Write down a price").click()
    page.fill("[id='field-new-price.amount']", "17500")
    page.uncheck("#new-survey")
    page.fill("#new-sea_trial-until", "2001-05-20")
    page.get_by_role("button", name="Write it down").click()
    until = page.locator("#new-sea_trial-until")
    expect(until).to_be_focused()
    expect(until).to_have_accessible_description(
        "It would have to be met before the offer was made."
    )
    beside = page.locator("label[for=new-sea_trial-until] + .error")
    expect(beside).to_have_text("It would have to be met before the offer was made.")
    expect(page.locator("main .error")).to_have_count(1)
    page.fill("#new-sea_trial-until", "2035-05-20")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator("main")).to_contain_text("by 20 May 2035")


# The form, the pointer of a fault, and the field beside which it is told.
LINES = [
    ("/groups/{group}/money", "expenses", "/weights/0/person", "weights.0.weight"),
    ("/groups/{group}/money", "expenses", "/weights/0/weight", "weights.0.weight"),
    ("/boats/{boat}/handover", "handover-items/usual", "/codes/1", "codes"),
    ("/boats/{boat}/survey", "reports", "/findings/0/kind", "findings.0.checkpoint"),
    ("/boats/{boat}/survey", "reports", "/findings/0/cost", "findings.0.cost.low"),
]


@pytest.mark.parametrize(("at", "form", "pointer", "field"), LINES)
def test_a_fault_of_a_line_is_told_in_that_line(boat, yard, phone, at, form, pointer, field):
    """As the module of the page shows it, for faults that its own forms seldom make."""
    api = yard.api("Ola")
    of = api.get(f"/candidates/{boat}")
    group = api.get(f"/lists/{of['list']}")["group"]
    if "money" in at:
        api.put(f"/groups/{group}/ledger", {"currency": "EUR"})
    ola = phone(bypass_csp=True)
    ola.sign_in("Ola")
    page = ola.page
    ola.go(at.format(boat=boat, group=group))
    told = page.evaluate(
        """async ([form, pointer]) => {
            const scripts = [...document.scripts].map((one) => one.src);
            const { showRefusal } = await import(new URL("api.js", scripts.find((one) => one)));
            const ends = (name) => `form[data-${name}$="${form}"]`;
            const found = document.querySelector(`${ends("api")}, ${ends("report")}`);
            const problem = { errors: [{ pointer, detail: "Not so." }] };
            showRefusal(found, { problem });
            const faulty = found.querySelector("[aria-invalid]");
            return [faulty?.name, found.querySelector("[data-notice]")?.textContent];
        }""",
        [form, pointer],
    )
    assert told == [field, ""]
