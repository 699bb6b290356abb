"""Shared by tests of own catalogues: a club with two groups, and sample entries."""

from dataclasses import dataclass
from typing import Any

from apps.groups.models import Club, ClubMembership, Group, Membership
from tests.conftest import Cast, Speaker, speaker

# The base's keel joint (conftest.SMALL), to be changed.
JOINT: dict[str, Any] = {
    "area": "keel",
    "title": "Line where keel meets hull",
    "position": 10,
    "look": "Follow the line all round.",
    "tools": ["torch"],
    "levels": ["No line.", "A hairline.", "A gap.", "A gap that weeps.", "The keel shifts."],
    "concerns": ["structural", "flooding"],
    "weight": 4.5,
    "walk_away_level": 4,
    "cautions": ["stands"],
    "prevented_by": ["afloat", "fresh_paint"],
    "professional": "surveyor",
    "professional_from": 2,
    "professional_only": False,
    "belief": {
        "mu": 1.0,
        "age": 0.25,
        "care": 0.4,
        "sd": 0.8,
        "ages_with": "boat",
        "breakage": 0.05,
    },
    "applies": {"keel": ["bolted_fin", "bolted_bulb"]},
    "measure": {"name": "gap", "unit": "mm", "scale": "gap-mm"},
    "remedies": [
        {"code": "reseal", "probability": [0, 0.1, 0.8, 0.2, 0], "extent": [0, 1, 1, 1, 0]},
        {"code": "rebed", "probability": [0, 0, 0.1, 0.8, 1], "extent": [0, 0, 1, 1, 1]},
    ],
    "tags": ["weeps"],
    "source": "project's own estimate",
    "place": "ground",
    "priority": 1,
    "minutes": 2,
}
# A new entry.
WARM: dict[str, Any] = {
    "area": "keel",
    "title": "Worm in the keel's wood",
    "position": 30,
    "look": "Tap along the deadwood and look for holes.",
    "levels": ["None.", "Old holes.", "Some holes.", "Soft wood.", "Hollow."],
    "concerns": ["structural"],
    "weight": 3,
    "professional": "surveyor",
    "professional_from": 2,
    "professional_only": False,
    "belief": {"mu": 1.0, "age": 0.2, "care": 0.5, "sd": 0.8, "ages_with": "boat"},
    "source": "the club's own record",
}
NEW_REMEDY: dict[str, Any] = {
    "title": "Copper the deadwood",
    "area": "keel",
    "hours": [5, 8, 12],
    "parts": [200, 300, 500],
    "scale": {"by": "loa", "exponent": 1},
    "enabling": ["lift-out"],
    "own_work": False,
    "urgency": "later",
    "confidence": "rough",
    "source": "the club's own record",
}


@dataclass
class Waters:
    """A club: Sue its secretary, Adam an adviser, Mia a member. Two groups: Tern and Gull.

    Of Tern Ola is the organiser and Ivy an observer; Gus organises Gull.
    """

    cast: Cast
    club: Club
    gull: Group
    sue: Speaker
    adam: Speaker
    mia: Speaker
    gus: Speaker

    @property
    def of_club(self) -> str:
        return f"/clubs/{self.club.pk}/catalogue"

    @property
    def of_tern(self) -> str:
        return f"/groups/{self.cast.group.pk}/catalogue"


def waters_made(cast: Cast) -> Waters:
    club = Club.objects.create(name="Harbour")
    who = {name: speaker(name.title()) for name in ("sue", "adam", "mia", "gus")}
    for name, role in (("sue", "secretary"), ("adam", "adviser"), ("mia", "member")):
        ClubMembership.objects.create(club=club, person=who[name].person, role=role)
    Group.objects.filter(pk=cast.group.pk).update(club=club)
    gull = Group.objects.create(name="Gull", club=club)
    Membership.objects.create(group=gull, person=who["gus"].person, role="organiser")
    return Waters(cast=cast, club=club, gull=gull, **who)


def said(who: Speaker, path: str, own: dict[str, Any], **body: Any) -> Any:
    """Send an entry for the first time, or again; it must succeed."""
    read = who.get(path)
    held = {"If_Match": read["ETag"]} if read.status_code == 200 and read.json()["edition"] else {}
    answer = who.put(path, {"own": own, **body}, **held)
    assert answer.status_code in (200, 201), answer.content
    return answer.json()
