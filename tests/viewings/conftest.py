"""Shared by tests of viewings: a small catalogue, a list with two boats, a visit to one of them.

Heron has a bolted iron fin and unknown rigging; Dunlin's keel is inside the moulding.
"""

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

import pytest

from apps.boats.list_models import CandidateList
from apps.boats.models import Candidate
from apps.catalogue.services import catalogue_load
from apps.viewings.models import Viewing
from tests.catalogue.conftest import Files, files  # noqa: F401
from tests.conftest import Cast, Speaker
from tests.kept import kept

RIGGING = """
area = "rigging"
title = "Standing rigging"
position = 30

[[checkpoint]]
code = "terminals"
title = "Wire terminals"
position = 10
place = "deck"
priority = 1
minutes = 2
look = "Follow each terminal with a fingertip, from deck level."
levels = ["Clean.", "Stained.", "A rough wire.", "A broken wire.", "Cracked."]
concerns = ["safety"]
weight = 4
cautions = ["stands"]
prevented_by = ["mast_elsewhere", "poor_light"]
hampered_by = ["wet", "walk_under_cover"]
professional = "rigger"
professional_from = 2
professional_only = false
belief = { mu = 1.0, age = 0.3, care = 0.4, sd = 0.9, ages_with = "standing_rigging" }
source = "project's own estimate"
"""


def look(checkpoint: str, level: int, **more: Any) -> dict[str, Any]:
    return {"checkpoint": checkpoint, "kind": "looked", "level": level, **more}


def could_not(checkpoint: str, reason: str, **more: Any) -> dict[str, Any]:
    return {"checkpoint": checkpoint, "kind": "could_not_look", "reason": reason, **more}


@dataclass
class Scene:
    cast: Cast
    catalogue: Files
    list: CandidateList
    heron: Candidate
    dunlin: Candidate
    viewing: Viewing

    def visit(self, boat: Candidate | None = None, **changed: Any) -> Viewing:
        """Another visit, by default to Heron."""
        facts = {"starts_at": datetime(2025, 3, 8, 10, tzinfo=UTC), "state": "made", **changed}
        return Viewing.objects.create(
            candidate=boat or self.heron, added_by=self.cast.ola.person, **facts
        )

    def post(
        self, who: Speaker, *findings: dict, viewing: Viewing | None = None, **more: Any
    ) -> Any:
        """Submit findings, by default from the first visit."""
        body = {"state": "submitted", "findings": list(findings), **more}
        return who.post(f"/viewings/{(viewing or self.viewing).id}/submissions", body)

    def posted(self, who: Speaker, *findings: dict, **more: Any) -> dict[str, Any]:
        answer = self.post(who, *findings, **more)
        assert answer.status_code == 201, answer.content
        return answer.json()

    def revision(self) -> int:
        self.list.refresh_from_db()
        return self.list.inputs_revision


@pytest.fixture
def scene(cast, files) -> Scene:  # noqa: F811
    files.write("checkpoints/rigging.toml", RIGGING)
    made = kept("scene", lambda: scene_made(cast, files))
    return replace(made, cast=cast, catalogue=files)


def scene_made(cast: Cast, files: Files) -> Scene:  # noqa: F811
    catalogue_load(folder=files.folder)
    candidate_list = CandidateList.objects.create(
        group=cast.group, name="Ten metres", currency="EUR", budget=40_000
    )
    heron, dunlin = (
        Candidate.objects.create(list=candidate_list, added_by=cast.ben.person, **facts)
        for facts in (
            {"name": "Heron", "keel": "bolted_fin", "keel_ballast": "iron"},
            {"name": "Dunlin", "keel": "encapsulated"},
        )
    )
    viewing = Viewing.objects.create(
        candidate=heron,
        starts_at=datetime(2025, 3, 1, 10, tzinfo=UTC),
        where="ashore",
        covered=True,
        added_by=cast.ben.person,
    )
    return Scene(cast, files, candidate_list, heron, dunlin, viewing)
