"""The plain facts from which results are computed."""

import pytest

from apps.boats.list_models import CandidateList
from apps.viewings.facts import list_clearances, list_findings
from tests.viewings.conftest import could_not, look


def test_it_works(scene):
    made = scene.posted(
        scene.cast.ben,
        {
            "checkpoint": "joint",
            "kind": "looked",
            "sureness": "sure",
            "measured": {"value": 3, "unit": "mm"},
        },
        could_not("mainsail", "covered"),
    )
    joint, mainsail = list_findings(scene.list.id)
    assert (joint.candidate_id, joint.checkpoint) == (scene.heron.id, "joint")
    assert (joint.kind, joint.level, joint.sureness) == ("looked", 3, "sure")
    assert (joint.measured_value, joint.measured_unit) == (3, "mm")
    assert (joint.author_id, joint.professional, joint.profession) == (
        scene.cast.ben.person.id,
        False,
        "",
    )
    assert str(joint.submission_id) == made["id"]
    assert joint.seen_at == scene.viewing.starts_at
    assert joint.conditions.where == "ashore"
    assert joint.conditions.covered is True
    assert joint.conditions.batteries_connected is None
    assert (mainsail.kind, mainsail.level, mainsail.reason) == ("could_not_look", None, "covered")


def test_only_what_counts(scene):
    other = CandidateList.objects.create(
        group=scene.cast.group, name="Bigger", currency="EUR", budget=1
    )
    first = scene.posted(scene.cast.ben, look("joint", 3))
    scene.posted(scene.cast.ben, look("joint", 1), supersedes=first["id"])
    scene.posted(scene.cast.bea, look("joint", 4), state="draft")
    surveyed = scene.posted(
        scene.cast.bea, look("iron", 2), capacity="professional", profession="surveyor"
    )
    # A draft of a correction does not take it away yet.
    scene.posted(scene.cast.bea, supersedes=surveyed["id"], state="draft")
    found = [(f.checkpoint, f.level, f.professional) for f in list_findings(scene.list.id)]
    assert found == [("joint", 1, False), ("iron", 2, True)]
    assert list_findings(other.id) == list_clearances(other.id) == []


@pytest.mark.parametrize(("read", "queries"), [(list_findings, 2), (list_clearances, 1)])
def test_constant_queries(scene, read, queries, django_assert_num_queries):
    with django_assert_num_queries(queries):
        read(scene.list.id)
    for who in (scene.cast.ben, scene.cast.bea):
        scene.posted(who, look("joint", 1), look("iron", 1))
        scene.cast.ben.post(
            f"/candidates/{scene.heron.id}/clearances",
            {
                "checkpoint": "joint",
                "basis": "repair",
                "level": 0,
                "document": "Invoice",
                "dated_on": "2025-03-20",
            },
        )
    with django_assert_num_queries(queries):
        assert len(read(scene.list.id)) >= 2
