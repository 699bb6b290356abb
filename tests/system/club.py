"""An invented club of 40 members in 12 groups, with 90 boats in 9 yards, made through the API.

Everybody acts with an account of their own. The boats are drawn with a fixed seed: each has a true
level at every checkpoint that applies, people see it with their own lean, and surveyors nearly
exactly. The club is always the same.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from apps.catalogue.applicability import applies
from apps.catalogue.content import BeliefEntry
from apps.catalogue.reading import read_catalogue
from apps.catalogue.snapshot import Catalogue
from server.demo.client import Client, Transport
from server.demo.scenario import read_scenario

ROOT = Path(__file__).parents[2]
PASSWORD = "forty at the long table"
SECRETARY = {"email": "secretary@example.org", "name": "Secretary"}

MEMBERS, GROUPS, BOATS, ADVISERS = 40, 12, 90, 4
POOLING, SHARING = 9, 8  # groups that agreed to
CHECKS = 24  # checks that somebody has time for on one boat
SURVEYED = 36
# Along an invented stretch of coast, north to south.
YARDS = (
    ("Alder Reach", 44.41, -68.62),
    ("Birch Cove", 44.29, -68.91),
    ("Cinder Point", 44.12, -69.07),
    ("Dunmere Quay", 43.99, -69.33),
    ("Ebb Mill", 43.91, -69.58),
    ("Fallow Wharf", 43.84, -69.71),
    ("Garth Landing", 43.80, -69.95),
    ("Hollow Creek", 43.75, -70.12),
    ("Isthmus Yard", 43.63, -70.24),
)
HOURS = [{"opens": "08:00", "closes": "12:00"}, {"opens": "13:00", "closes": "17:00"}]
OPENING = {
    **dict.fromkeys(("monday", "tuesday", "wednesday", "thursday", "friday"), HOURS),
    "saturday": [{"opens": "09:00", "closes": "15:00"}],
}
# The end of winter: boats ashore, most of them under a cover.
CONDITIONS = {"where": "ashore", "mast_state": "on_deck", "engine_winterised": True}


@dataclass
class ClubBoat:
    """A boat of a group. `truth`: the level at each checkpoint that applies."""

    id: str
    group: str
    yard: str
    body: dict[str, Any]
    truth: Mapping[str, int]


@dataclass
class ClubGroup:
    """`people` in the order in which they joined, the organiser first."""

    id: str
    list_id: str
    people: list[str]
    boats: list[ClubBoat] = field(default_factory=list)


class ClubStory:
    """Plays the story. The secretary's account exists already.

    people: clients by name. ids: of people by name. yards: ids by name.
    """

    def __init__(self, transport: Transport) -> None:
        self.nobody = Client(transport)
        self.catalogue: Catalogue = read_catalogue(ROOT / "fixtures" / "catalogue")
        demo = read_scenario(ROOT / "fixtures" / "demo")
        self.brief = demo.candidate_list["brief"]
        self.models = [boat["candidate"] for boat in demo.boats.values()]
        self.rng = np.random.default_rng(40)
        self.people: dict[str, Client] = {}
        self.ids: dict[str, str] = {}
        self.leans: dict[str, float] = {}
        self.yards: dict[str, str] = {}
        self.groups: list[ClubGroup] = []
        self.club = ""
        self.submissions = self.findings = 0

    def play(self) -> "ClubStory":
        self.found()
        for n in range(GROUPS):
            self.group(n)
        for n in range(BOATS):
            self.boat(n)
        for boat in self.boats:
            self.look(boat)
        for boat in self.boats[:SURVEYED]:
            self.survey(boat)
        self.agree()
        return self

    @property
    def boats(self) -> list[ClubBoat]:
        """The boats, taking one group after the other, so that the first are from many groups."""
        by_group = [group.boats for group in self.groups]
        longest = max(len(boats) for boats in by_group)
        return [boats[n] for n in range(longest) for boats in by_group if n < len(boats)]

    @property
    def secretary(self) -> Client:
        return self.people["Secretary"]

    @property
    def advisers(self) -> list[str]:
        return [f"Adviser {n}" for n in range(1, ADVISERS + 1)]

    def group_of(self, boat: ClubBoat) -> ClubGroup:
        return next(group for group in self.groups if group.id == boat.group)

    def organiser_of(self, boat: ClubBoat) -> Client:
        return self.people[self.group_of(boat).people[0]]

    # --- Who -------------------------------------------------------------------------------------

    def found(self) -> None:
        """Found the club with its advisers, members and yards."""
        self._sign_in(SECRETARY["name"], SECRETARY["email"])
        self.club = self.secretary.post("/clubs", {"name": "Long Table Sailing Club"})["id"]
        for name in self.advisers:
            self._join(name, "adviser")
        for n in range(1, MEMBERS - ADVISERS):
            self._join(f"Member {n}", "member")
        for name, latitude, longitude in YARDS:
            body = {
                "name": name,
                "latitude": latitude,
                "longitude": longitude,
                "time_zone": "America/New_York",
                "opening_hours": OPENING,
            }
            self.yards[name] = self.secretary.post(f"/clubs/{self.club}/yards", body)["id"]

    def _join(self, name: str, role: str) -> None:
        invitation = self.secretary.post(f"/clubs/{self.club}/invitations", {"role": role})
        email = f"{name.lower().replace(' ', '-')}@example.org"
        self.nobody.post(
            "/acceptances",
            {"token": invitation["token"], "email": email, "name": name, "password": PASSWORD},
        )
        self._sign_in(name, email)

    def _sign_in(self, name: str, email: str) -> None:
        self.people[name] = self.nobody.signed_in(email, PASSWORD)
        self.ids[name] = self.people[name].get("/people/me")["id"]
        self.leans[name] = float(self.rng.normal(0, 0.4))

    def group(self, n: int) -> None:
        """Three members each, the last of them only a helper, and a list with the usual brief."""
        first, *others = (f"Member {1 + (3 * n + k) % (MEMBERS - ADVISERS - 1)}" for k in range(3))
        organiser = self.people[first]
        made = organiser.post("/groups", {"name": f"Table {n + 1}", "club_id": self.club})["id"]
        for name, role in zip(others, ("buyer", "helper"), strict=True):
            invitation = organiser.post(f"/groups/{made}/invitations", {"role": role})
            self.people[name].post("/acceptances", {"token": invitation["token"]})
        found = organiser.post(
            f"/groups/{made}/lists", {"name": "For next summer", "brief": self.brief}
        )
        self.groups.append(ClubGroup(made, found["id"], [first, *others]))

    def agree(self) -> None:
        """Most groups pool with their club, and share what surveys found."""
        for n, group in enumerate(self.groups):
            agreed = {"pools_with_club": n < POOLING, "shares_surveys": n < SHARING}
            self.people[group.people[0]].change("PATCH", f"/groups/{group.id}", agreed)

    # --- What ------------------------------------------------------------------------------------

    def boat(self, n: int) -> None:
        """A boat like one of the demo's, of another year and price, in one of the yards."""
        group = self.groups[n % GROUPS]
        name, latitude, longitude = YARDS[int(self.rng.integers(len(YARDS)))]
        like = self.models[n % len(self.models)]
        build_year = int(self.rng.integers(1972, 2008))
        asking = 9_000 + 700 * (build_year - 1970) + int(self.rng.integers(-3_000, 3_000))
        body = {
            **{key: value for key, value in like.items() if not key.endswith("_year")},
            "name": f"Boat {n + 1}",
            "build_year": build_year,
            "asking": {"amount": f"{asking}.00", "currency": "USD"},
            "place": {
                "yard": name,
                "latitude": latitude,
                "longitude": longitude,
                "yard_id": self.yards[name],
            },
        }
        body.pop("sources", None)
        made = self.people[group.people[0]].post(f"/lists/{group.list_id}/candidates", body)
        group.boats.append(ClubBoat(made["id"], group.id, name, body, self._truth(body)))
        for buyer in group.people[:2]:  # the third is only a helper
            valuation = asking + 38_000 + int(self.rng.integers(-4_000, 8_000))
            said = {"valuation": {"amount": f"{valuation}.00", "currency": "USD"}}
            self.people[buyer].put(f"/candidates/{made['id']}/valuation", said)

    def _truth(self, body: Mapping[str, Any]) -> dict[str, int]:
        """Levels by the catalogue's belief for her age, shifted by her care."""
        kept, age = (
            self.rng.choice([-0.6, 0.0, 0.8], p=[0.25, 0.5, 0.25]),
            2026 - body["build_year"],
        )
        return {
            code: self._level(b.mu + b.age * (min(age, 30) - 30) / 10 + b.care * kept, b.sd)
            for code, b in self._beliefs(body).items()
        }

    def _beliefs(self, body: Mapping[str, Any]) -> dict[str, BeliefEntry]:
        said = self.catalogue.checkpoints.items()
        return {code: checkpoint.belief for code, checkpoint in said if applies(checkpoint, body)}

    def _level(self, mean: float, sd: float) -> int:
        return int(np.clip(round(self.rng.normal(mean, sd)), 0, 4))

    def look(self, boat: ClubBoat) -> None:
        """Two of the group look; each makes some checks, and could not make others."""
        people = self.group_of(boat).people
        goes = [people[0], people[1 + int(self.rng.integers(len(people) - 1))]]
        viewing = self.visit(boat, goes)
        for name in goes:
            findings = self.seen(boat, lean=self.leans[name], spread=0.5)
            self.submit(name, viewing, {"findings": findings, "minutes": 45})

    def survey(self, boat: ClubBoat) -> None:
        """A surveyor's report, entered by the organiser."""
        name = self.group_of(boat).people[0]
        findings = self.seen(boat, lean=0.0, spread=0.2, count=2 * CHECKS)
        viewing = self.visit(boat, [name], days_ago=7)
        body = {"findings": findings, "capacity": "professional", "profession": "surveyor"}
        self.submit(name, viewing, body)
        for remedy in self.called_for(findings)[:2]:
            body = {
                "remedy": remedy,
                "paid": {"amount": f"{int(self.rng.integers(300, 4000))}.00", "currency": "USD"},
                "done_by": "professional",
                "document": "Invoice of the yard",
                "dated_on": (datetime.now(UTC) - timedelta(days=2)).date().isoformat(),
            }
            self.people[name].post(f"/candidates/{boat.id}/bills", body)

    def called_for(self, findings: list[dict[str, Any]]) -> list[str]:
        """Remedies that a surveyor's findings probably need."""
        return sorted(
            {
                call.code
                for finding in findings
                if finding["kind"] == "looked" and finding["level"] >= 3
                for call in self.catalogue.checkpoints[finding["checkpoint"]].remedies
                if call.probability[finding["level"]] > 0.5
            }
        )

    def visit(self, boat: ClubBoat, people: list[str], days_ago: int = 30) -> str:
        body = {
            "starts_at": (datetime.now(UTC) - timedelta(days=days_ago)).isoformat(),
            "state": "made",
            "people": [self.ids[name] for name in people],
            "conditions": CONDITIONS,
        }
        return str(self.people[people[0]].post(f"/candidates/{boat.id}/viewings", body)["id"])

    def seen(
        self, boat: ClubBoat, *, lean: float, spread: float, count: int = CHECKS
    ) -> list[dict[str, Any]]:
        codes = self.rng.choice(list(boat.truth), size=min(count, len(boat.truth)), replace=False)
        looked = [
            {
                "checkpoint": str(code),
                "kind": "looked",
                "level": self._level(boat.truth[code] + lean, spread),
            }
            for code in codes[:-4]
        ]
        not_looked = [
            {"checkpoint": str(code), "kind": "could_not_look", "reason": "no_time"}
            for code in codes[-4:]
        ]
        return looked + not_looked

    def submit(self, name: str, viewing: str, body: Mapping[str, Any]) -> dict[str, Any]:
        made: dict[str, Any] = self.people[name].post(
            f"/viewings/{viewing}/submissions", {"state": "submitted", **body}
        )
        self.submissions += 1
        self.findings += len(made["findings"])
        return made


def saturday() -> date:
    """The next Saturday but one: far enough ahead to plan for."""
    today = datetime.now(UTC).date()
    return today + timedelta(days=7 + (5 - today.weekday()) % 7)
