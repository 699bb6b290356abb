"""The data of the viewings' tests, with a list in euros that has a rate for dollars."""

from typing import Any

import pytest

from apps.groups.models import Membership
from tests.catalogue.conftest import files  # noqa: F401
from tests.viewings.conftest import Scene
from tests.viewings.conftest import scene as viewings_scene  # noqa: F401


@pytest.fixture
def scene(viewings_scene) -> Scene:  # noqa: F811
    viewings_scene.list.exchange_rates = {"USD": "0.92"}
    viewings_scene.list.save()
    return viewings_scene


def set_shares(scene: Scene, **shares: str) -> None:
    """The shares of the buyers by name."""
    for membership in Membership.objects.filter(group=scene.cast.group, buys=True):
        membership.share = shares[membership.person.name.lower()]
        membership.save()


def opened(scene: Scene, who: Any = None, **changed: Any) -> Any:
    body = {"reason": "The best of the six", "counted_by": "shares", "quorum": "0.5", **changed}
    return (who or scene.cast.ben).post(f"/candidates/{scene.heron.id}/survey-votes", body)


def quoted_by_the_yard(scene: Scene, amount: str, dated_on: str) -> Any:
    """A fixed price for bedding Heron's keel anew."""
    body = {
        "remedy": "rebed",
        "price": {"amount": amount, "currency": "EUR"},
        "firmness": "fixed",
        "from_whom": "The yard",
        "dated_on": dated_on,
    }
    return scene.cast.ben.post(f"/candidates/{scene.heron.pk}/quotes", body)


def commissioned(scene: Scene, who: Any = None, **changed: Any) -> Any:
    body = {
        "kind": "hull",
        "surveyor": "The surveyor of the harbour",
        "scope": "Hull, keel, rudder, deck; no engine",
        "lift_out": True,
        "planned_on": "2025-04-12",
        "fee": {"amount": "850.00", "currency": "EUR"},
        "note": "Has the key",
        **changed,
    }
    return (who or scene.cast.ben).post(f"/candidates/{scene.heron.id}/surveys", body)


def reported(scene: Scene, at: str, who: Any = None, **changed: Any) -> Any:
    """Enter a report on the survey at this address."""
    body = {
        "document": "Report 31 of 14 April",
        "looked_at": "2025-04-12T09:00:00Z",
        "summary": "A sound boat with a wet joint.",
        "findings": [
            {
                "checkpoint": "joint",
                "level": 3,
                "words": "The joint is open by 2 mm; drop the keel.",
                "urgency": "before_use",
                "cost": {"low": "1600.00", "high": "3600.00", "currency": "EUR"},
                "remedy": "rebed",
            },
            {"words": "The cushions smell.", "urgency": "when_convenient"},
        ],
        **changed,
    }
    return (who or scene.cast.ben).post(f"{at}/reports", body)
