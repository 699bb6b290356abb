"""The pages of buying and owning in a real browser, on a phone and on a desk, with all unfolded."""

from dataclasses import dataclass
from typing import Any

import pytest

from server.demo.client import Client
from tests.appraisal.building import PARTICULARS
from tests.browser.conftest import DESK, PHONE, Yard, well_made
from tests.system.processes import until
from tests.system.test_embedded_jobs import pytestmark  # noqa: F401  (where it runs)

LOOKED = ("keel-joint-line", "chainplates-below", "engine-oil")


def euros(amount: str) -> dict[str, str]:
    return {"amount": amount, "currency": "EUR"}


@dataclass
class Bought:
    """A boat of Ola's, who alone buys, with something on each page."""

    group: str
    boat: str

    @property
    def pages(self) -> dict[str, str]:
        """By heading."""
        boat, group = f"/boats/{self.boat}", f"/groups/{self.group}"
        return {
            "What to offer for Dunlin": f"{boat}/offers",
            "Common money of Whimbrel": f"{group}/money",
            "What you agree as owners: Whimbrel": f"{group}/agreement",
            "Handover of Dunlin": f"{boat}/handover",
            "First season of Dunlin": f"{boat}/season",
            "What happened to Dunlin": f"{boat}/record",
        }


@pytest.fixture(scope="module")
def bought(yard: Yard) -> Bought:
    ola = yard.api("Ola")
    group = ola.post("/groups", {"name": "Whimbrel"})["id"]
    brief = {"currency": "EUR", "budget": euros("40000"), "exchange_rates": {"USD": "0.9"}}
    listed = ola.post(f"/groups/{group}/lists", {"name": "Spring", "brief": brief})["id"]
    body = {"name": "Dunlin", **PARTICULARS, "asking": euros("20000")}
    boat = ola.post(f"/lists/{listed}/candidates", body)["id"]
    looked_at(ola, boat)
    offered_for(ola, boat)
    owned(ola, group, boat)
    until(lambda: not yard.service.behind)
    return Bought(group, boat)


def looked_at(ola: Client, boat: str) -> None:
    at = f"/candidates/{boat}"
    visit = ola.post(f"{at}/viewings", {"starts_at": "2025-04-02T10:00:00Z", "state": "made"})
    findings = [{"checkpoint": one, "kind": "looked", "level": 3} for one in LOOKED]
    submission: dict[str, Any] = {"state": "submitted", "vote": "keep", "findings": findings}
    ola.post(f"/viewings/{visit['id']}/submissions", submission)
    ola.put(f"{at}/valuation", {"valuation": euros("30000")})


def offered_for(ola: Client, boat: str) -> None:
    at, until_then = f"/candidates/{boat}", [{"code": "survey", "until": "2025-05-20"}]
    offer = {"price": euros("17500.50"), "offered_on": "2025-05-02", "conditions": until_then}
    ola.post(f"{at}/offers", offer)
    ola.post(f"{at}/offers", {**offer, "side": "seller", "price": euros("18900")})
    ola.put(f"{at}/gates/title", {"settled": True, "checked_by": "Ola", "document": "The bill"})
    ola.put(f"{at}/gates/debts", {"due_on": "2031-05-20", "checked_by": "the registry"})


def owned(ola: Client, group: str, boat: str) -> None:
    me = ola.get("/people/me")["id"]
    ola.put(f"/groups/{group}/ledger", {"currency": "EUR"})
    paid = {"what": "Ferry", "paid_by": me, "paid": euros("91.01"), "paid_on": "2025-04-02"}
    ola.post(f"/groups/{group}/expenses", {**paid, "rule": "equal"})
    topic = f"/groups/{group}/agreement/shares"
    ola.put(topic, {"text": "All of her is Ola's."})
    ola.post(f"{topic}/consents", {"wording": 1})
    at = f"/candidates/{boat}"
    ola.put(f"{at}/handover", {"seller": "The seller", "price": euros("18400.01")})
    item = ola.post(f"{at}/handover-items", {"kind": "key", "what": "Engine", "promised": 2})
    ola.change("PATCH", f"/handover-items/{item['id']}", {"found": 1})
    ola.put(f"{at}/season-settings", {"first_month": "2031-01-01", "own_hours": 40})


def test_each_page_is_well_made(bought, phone):
    ola = phone(bypass_csp=True)
    ola.sign_in("Ola")
    for heading, at in bought.pages.items():
        ola.go(at)
        ola.comes_to(heading)
        # The season's page has a form for each work that there may be: it is checked once.
        for size in (PHONE,) if at.endswith("/season") else (PHONE, DESK):
            ola.page.set_viewport_size(size)
            well_made(ola.page)
        ola.page.set_viewport_size(PHONE)
