"""Doubts: they stay open whatever other members saw, until cleared."""

from datetime import UTC, date, datetime

import pytest

from apps.catalogue.services import catalogue_load
from apps.viewings.doubts import open_doubts
from apps.viewings.models import Clearance
from tests.viewings.conftest import could_not, look

MARCH_8 = datetime(2025, 3, 8, 10, tzinfo=UTC)
APRIL_1 = datetime(2025, 4, 1, 10, tzinfo=UTC)


def doubts(scene) -> dict[str, int]:
    """Level of the open doubts by checkpoint, on Heron."""
    return {
        doubt.checkpoint: doubt.level
        for doubt in open_doubts(scene.list.id)
        if doubt.candidate_id == scene.heron.id
    }


def professional(scene, profession, *findings, **more):
    return scene.posted(
        scene.cast.ola, *findings, capacity="professional", profession=profession, **more
    )


def clear(scene, checkpoint="joint", dated_on=date(2025, 3, 20), basis="repair", **more):
    return Clearance.objects.create(
        candidate=scene.heron,
        checkpoint_id=checkpoint,
        basis=basis,
        level=0,
        document="a document",
        dated_on=dated_on,
        added_by=scene.cast.ben.person,
        **more,
    )


def test_it_works(scene):
    made = scene.posted(scene.cast.ben, look("joint", 3), look("terminals", 2))
    scene.posted(scene.cast.bea, look("joint", 0), look("terminals", 4), viewing=scene.visit())
    joint, terminals = open_doubts(scene.list.id)
    assert (joint.candidate_id, joint.checkpoint, joint.level) == (scene.heron.id, "joint", 3)
    assert joint.title == "Line where keel meets hull"
    assert joint.concerns == ("structural", "flooding")
    assert (joint.raised_by_name, str(joint.submission_id)) == ("Ben", made["id"])
    assert joint.seen_at == scene.viewing.starts_at
    assert joint.judged_by == "surveyor"
    assert (terminals.level, terminals.raised_by_name, terminals.judged_by) == (4, "Bea", "rigger")


def test_what_is_no_doubt(scene):
    scene.posted(scene.cast.ben, look("joint", 1), look("mainsail", 4), look("iron", 4))
    scene.posted(scene.cast.bea, could_not("joint", "growth"))
    scene.posted(scene.cast.bea, look("terminals", 4), state="draft")
    assert doubts(scene) == {}


def terminals(scene, old, new):
    """The rigging's checkpoint with other values."""
    scene.catalogue.change("checkpoints/rigging.toml", old, new)
    catalogue_load(folder=scene.catalogue.folder)


def test_it_begins_where_the_professional_must_judge(scene):
    terminals(scene, "professional_from = 2", "professional_from = 3")
    scene.posted(scene.cast.ben, look("terminals", 2))
    assert doubts(scene) == {}
    scene.posted(scene.cast.bea, look("terminals", 3))
    assert doubts(scene) == {"terminals": 3}


def test_what_is_serviceable_is_no_doubt_whoever_must_judge(scene):
    terminals(scene, "professional_from = 2", "professional_from = 0")
    scene.posted(scene.cast.ben, look("terminals", 1))
    assert doubts(scene) == {}
    scene.posted(scene.cast.bea, look("terminals", 2))
    assert doubts(scene) == {"terminals": 2}


def test_how_many_people_saw_it_and_how_many_did_not(scene):
    scene.posted(scene.cast.ben, look("joint", 4))
    scene.posted(scene.cast.ben, look("joint", 4), viewing=scene.visit())
    scene.posted(scene.cast.bea, look("joint", 3))
    (doubt,) = open_doubts(scene.list.id)
    assert (doubt.level, doubt.seen_by, doubt.seen_otherwise) == (4, 1, 1)
    scene.posted(scene.cast.hal, look("joint", 4))
    (doubt,) = open_doubts(scene.list.id)
    assert (doubt.level, doubt.seen_by, doubt.seen_otherwise) == (4, 2, 1)


def test_a_receipt_closes_it_where_the_catalogue_says_so(scene):
    scene.posted(scene.cast.ben, look("terminals", 4))
    clear(scene, "terminals", basis="receipt")
    assert doubts(scene) == {"terminals": 4}
    terminals(
        scene, "professional_only = false", "professional_only = false\nreceipt_clears = true"
    )
    assert doubts(scene) == {}
    scene.posted(scene.cast.bea, look("terminals", 4), viewing=scene.visit(starts_at=APRIL_1))
    (doubt,) = open_doubts(scene.list.id)
    assert (doubt.level, doubt.receipt) == (4, True)  # seen after the receipt's date


def test_a_member_does_not_clear_it(scene):
    scene.posted(scene.cast.ben, look("joint", 3))
    for who in (scene.cast.ben, scene.cast.bea, scene.cast.ola):
        scene.posted(who, look("joint", 0, sureness="sure"), viewing=scene.visit())
    assert doubts(scene) == {"joint": 3}


def test_its_author_can_correct_it(scene):
    wrong = scene.posted(scene.cast.ben, look("joint", 3))
    scene.posted(scene.cast.ben, look("joint", 1), supersedes=wrong["id"])
    assert doubts(scene) == {}


def test_a_professional_who_looked_later_clears_it(scene):
    scene.posted(scene.cast.ben, look("joint", 3))
    professional(scene, "surveyor", look("joint", 1), viewing=scene.visit(starts_at=MARCH_8))
    assert doubts(scene) == {}


def test_on_the_same_visit_the_professionals_word_counts(scene):
    professional(scene, "surveyor", look("joint", 1))
    scene.posted(scene.cast.ben, look("joint", 3))
    assert doubts(scene) == {}


def test_what_is_seen_after_the_professional_is_open(scene):
    professional(scene, "surveyor", look("joint", 1))
    scene.posted(scene.cast.ben, look("joint", 2), viewing=scene.visit(starts_at=MARCH_8))
    assert doubts(scene) == {"joint": 2}


def test_what_the_professional_finds_wrong_is_open_at_that_level(scene):
    scene.posted(scene.cast.ben, look("joint", 4))
    professional(scene, "surveyor", look("joint", 3), viewing=scene.visit())
    assert doubts(scene) == {"joint": 3}


def test_two_professionals_on_one_visit_do_not_clear_one_another(scene):
    professional(scene, "surveyor", look("joint", 3))
    professional(scene, "surveyor", look("joint", 1))
    assert doubts(scene) == {"joint": 3}


def test_a_professional_who_could_not_look_clears_nothing(scene):
    scene.posted(scene.cast.ben, look("joint", 3))
    professional(scene, "surveyor", could_not("joint", "growth"), viewing=scene.visit())
    assert doubts(scene) == {"joint": 3}


@pytest.mark.parametrize(
    ("profession", "left"), [("rigger", {}), ("surveyor", {}), ("sailmaker", {"terminals": 3})]
)
def test_the_trade_named_or_a_surveyor_judges(scene, profession, left):
    scene.posted(scene.cast.ben, look("terminals", 3))
    professional(scene, profession, look("terminals", 0), viewing=scene.visit())
    assert doubts(scene) == left
    # And so with a document.
    for clearance in Clearance.objects.all():
        clearance.delete()
    clear(scene, "terminals", basis="professional", profession=profession)
    assert doubts(scene) == left


def test_a_correction_of_the_professionals_opens_it_again(scene):
    scene.posted(scene.cast.ben, look("joint", 3))
    surveyed = professional(scene, "surveyor", look("joint", 1), viewing=scene.visit())
    scene.posted(scene.cast.ola, supersedes=surveyed["id"], viewing=scene.visit())
    assert doubts(scene) == {"joint": 3}


@pytest.mark.parametrize(
    ("dated_on", "left"),
    [(date(2025, 2, 28), {"joint": 3}), (date(2025, 3, 1), {}), (date(2025, 3, 2), {})],
)
def test_a_document_closes_what_was_seen_up_to_its_date(scene, dated_on, left):
    scene.posted(scene.cast.ben, look("joint", 3))
    clear(scene, dated_on=dated_on)
    assert doubts(scene) == left


def test_a_clearance_withdrawn_or_of_something_else_closes_nothing(scene):
    scene.posted(scene.cast.ben, look("joint", 3))
    clear(scene, withdrawn_at=MARCH_8)
    clear(scene, "terminals")
    assert doubts(scene) == {"joint": 3}


def test_what_is_submitted_before_the_visit_was_seen_when_it_was_submitted(scene):
    early = scene.visit(starts_at=datetime(2999, 1, 1, tzinfo=UTC))
    professional(scene, "surveyor", look("joint", 1), viewing=early)
    scene.posted(scene.cast.ben, look("joint", 3), viewing=early)
    assert doubts(scene) == {"joint": 3}, "a date far ahead clears nothing beforehand"


def test_a_doubt_stays_when_its_checkpoint_leaves_the_catalogue(scene):
    scene.posted(scene.cast.ben, look("joint", 3))
    scene.catalogue.without_checkpoint("checkpoints/keel.toml", "joint")
    catalogue_load(folder=scene.catalogue.folder)
    assert doubts(scene) == {"joint": 3}


def test_constant_queries(scene, django_assert_num_queries):
    scene.posted(scene.cast.ben, look("joint", 3))
    # the group, submissions, their findings, clearances, the edition, what is overlaid on it
    with django_assert_num_queries(6):
        assert len(open_doubts(scene.list.id)) == 1
    for who in (scene.cast.bea, scene.cast.hal):
        scene.posted(who, look("terminals", 3), viewing=scene.visit())
        scene.posted(who, look("terminals", 3), viewing=scene.visit(scene.dunlin))
    clear(scene, "terminals", dated_on=date(2025, 1, 1))
    with django_assert_num_queries(6):
        assert len(open_doubts(scene.list.id)) == 3
