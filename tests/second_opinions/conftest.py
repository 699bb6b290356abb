"""Shared by tests of second opinions: the Tern group in a club, a secretary and two advisers.

Sef is the club's secretary, Abe and Amy advise, Mo only belongs to it; Wim's Skua group is of the
same club. Heron lies in a yard of the club, Dunlin has no place.
"""

from dataclasses import dataclass, replace
from typing import Any

import pytest
from django.utils import timezone

from apps.appraisal.models import ListAppraisal
from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.boats.yards.models import Yard
from apps.groups.models import Club, ClubMembership, Group
from tests.catalogue.conftest import files  # noqa: F401
from tests.conftest import Speaker, speaker
from tests.kept import kept
from tests.viewings.conftest import Scene, look, scene  # noqa: F401

QUESTION = "Is the keel joint as bad as it looks?"
SEEN = [look("joint", 2, note="A hair line, dry.")]


@dataclass
class ClubScene:
    scene: Scene
    club: Club
    sef: Speaker
    abe: Speaker
    amy: Speaker
    mo: Speaker
    yard: Yard

    @property
    def cast(self) -> Any:
        return self.scene.cast

    @property
    def queue(self) -> str:
        return f"/clubs/{self.club.id}/second-opinion-queue"

    def ask(self, who: Speaker | None = None, boat: Candidate | None = None, **more: Any) -> Any:
        at = f"/candidates/{(boat or self.scene.heron).id}/second-opinion-requests"
        return (who or self.cast.ben).post(at, {"question": QUESTION, **more})

    def asked(self, *args: Any, **more: Any) -> str:
        answer = self.ask(*args, **more)
        assert answer.status_code == 201, answer.content
        return answer.json()["id"]

    def assignment(self, who: Speaker, request_id: str) -> Any:
        return who.post(f"/second-opinion-queue/{request_id}/assignments")

    def taken(self, who: Speaker | None = None, request_id: Any = None, **asked: Any) -> str:
        """The path of an assignment, by default Abe's."""
        answer = self.assignment(who or self.abe, request_id or self.asked(**asked))
        assert answer.status_code == 201, answer.content
        return f"/assignments/{answer.json()['id']}"

    def visited(self, assignment: str, who: Speaker | None = None) -> str:
        """The same assignment with a visit."""
        body = {"starts_at": "2025-04-05T09:30:00Z", "conditions": {"where": "ashore"}}
        answer = (who or self.abe).put(f"{assignment}/visit", body)
        assert answer.status_code == 201, answer.content
        return assignment

    def submit(self, assignment: str, who: Speaker | None = None, **more: Any) -> Any:
        body = {"state": "submitted", "findings": SEEN, **more}
        return (who or self.abe).post(f"{assignment}/submissions", body)

    def request_of(self, assignment: str) -> str:
        return self.abe.get(assignment).json()["asked"]["id"]

    def seen_by(self, who: Speaker, query: str = "") -> list[dict[str, Any]]:
        answer = who.get(f"{self.queue}{query}")
        assert answer.status_code == 200, answer.content
        return answer.json()["results"]

    def steps(self, request_id: str, who: Speaker | None = None) -> list[tuple[str, str | None]]:
        rows = (
            (who or self.cast.ivy)
            .get(f"/second-opinion-requests/{request_id}/steps")
            .json()["results"]
        )
        return [(row["kind"], row["by"] and row["by"]["name"]) for row in rows]

    def another_group(self, name: str, who: Speaker, currency: str = "EUR") -> Candidate:
        """Another group of the club with one boat on a list."""
        group = Group.objects.create(name=name, club=self.club)
        group.memberships.create(person=who.person, role="organiser")
        listed = CandidateList.objects.create(
            group=group, name=name, currency=currency, budget=9_000
        )
        return Candidate.objects.create(
            list=listed, name=f"{name}'s boat", added_by=who.person, keel="bolted_fin"
        )


def value_known(boat: Candidate, visit: str, **checks: str) -> None:
    """Store results with the value of looks at this boat."""
    currency = boat.list.currency
    stored, _ = ListAppraisal.objects.get_or_create(
        list=boat.list, defaults={"looks_computed_at": timezone.now()}
    )
    looks = stored.cost_looks or {"checks": [], "visits": [], "questions": [], "by_check": {}}
    looks["visits"] += [
        {
            "candidate_id": str(boat.pk),
            "kind": kind,
            "hindrances": [],
            "checks": 3,
            "moves": {"amount": amount, "currency": currency},
        }
        for kind, amount in (("as_before", "1.00"), ("nothing_in_the_way", visit))
    ]
    looks["by_check"][str(boat.pk)] = {code: round(float(moves)) for code, moves in checks.items()}
    stored.cost_looks = looks
    stored.save()


@pytest.fixture
def asking(scene) -> ClubScene:  # noqa: F811
    made = kept("asking", lambda: asking_made(scene))
    scene.heron.refresh_from_db()
    scene.list.group.refresh_from_db()
    return replace(made, scene=scene)


def asking_made(scene: Scene) -> ClubScene:  # noqa: F811
    club = Club.objects.create(name="Estuary Club")
    Group.objects.filter(pk__in=(scene.cast.group.pk, scene.cast.other_group.pk)).update(club=club)
    people = {name: speaker(name.title()) for name in ("sef", "abe", "amy", "mo")}
    roles = {"sef": "secretary", "abe": "adviser", "amy": "adviser", "mo": "member"}
    for name, role in roles.items():
        ClubMembership.objects.create(club=club, person=people[name].person, role=role)
    for who in (scene.cast.ben, scene.cast.wim):
        ClubMembership.objects.create(club=club, person=who.person, role="member")
    yard = Yard.objects.create(
        club=club, name="North Quay", latitude=54.123, longitude=10.234, time_zone="Europe/Berlin"
    )
    Candidate.objects.filter(pk=scene.heron.pk).update(at_yard=yard, loa_m=9.6)
    return ClubScene(scene=scene, club=club, yard=yard, **people)
