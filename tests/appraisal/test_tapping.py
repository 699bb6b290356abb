"""Recorded taps as a measured value with its own rater, which moves belief only a little."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from apps.appraisal.compute.arrays import list_arrays
from apps.appraisal.compute.computing import believe
from apps.appraisal.compute.inputs import read_inputs
from apps.catalogue.selectors import catalogue_snapshot
from apps.reckoning.levels import mean_level
from apps.viewings.models import Sound, Submission
from apps.viewings.services import clearance_add
from tests.catalogue.real import REAL

DECK = "deck-tapping"
CRISP, DEAD = 0.12, 0.03  # seconds


def taps(decay_s: float, count: int = 12) -> list[dict]:
    """Measurements of a recording, with small variations."""
    return [
        {
            "at_s": 0.5 * n,
            "decay_s": round(decay_s * (1 + 0.02 * (n % 3)), 4),
            "frequency_hz": 1400.0 + 10 * (n % 5),
            "peak_db": -6.0,
            "range_db": 50.0,
            "clipped": False,
        }
        for n in range(count)
    ]


def record(submission: Submission, decay_s: float, *, count: int = 12, **said) -> Sound:
    return Sound.objects.create(
        group=submission.viewing.candidate.list.group,
        viewing=submission.viewing,
        submission=submission,
        added_by=submission.author,
        state=Sound.State.READY,
        duration_s=9.0,
        rate_hz=44_100,
        taps=taps(decay_s, count),
        **{"checkpoint_id": DECK, **said},
    )


def reference(submission: Submission, **said) -> Sound:
    return record(submission, CRISP, purpose=Sound.Purpose.REFERENCE, **said)


@pytest.fixture
def boat(yard):
    return yard.boat("Petrel")


@pytest.fixture
def look(yard, boat, cast):
    """Somebody found the deck defective: a doubt, because it is structural."""
    return yard.look(boat, cast.ben.person, {DECK: 3})


def worked_out(yard):
    inputs = read_inputs(yard.list.pk)
    return inputs, believe(inputs)


def stated_by_sound(believed) -> list:
    return [one for one in believed.arrays.statements if one.grader.kind == "sound"]


def level_of(believed) -> float:
    deck = [c.code for c in believed.arrays.checkpoints].index(DECK)
    return float(mean_level(believed.belief.level)[0, deck])


@pytest.mark.parametrize(("decay_s", "level"), [(DEAD, 3), (CRISP, 0)])
def test_it_works(yard, look, decay_s, level):
    before = level_of(worked_out(yard)[1])
    reference(look)
    record(look, decay_s)
    _, believed = worked_out(yard)
    one = stated_by_sound(believed)[0]
    assert (one.level, one.sureness, one.grader.name) == (level, "fairly", "tap-dull-share")
    assert one.finding.author_name == "Ben", "who recorded it; the grader is the recording"
    moved = level_of(believed) - before
    assert np.sign(moved) == np.sign(level - before), "towards what the taps say"
    assert 0.02 < abs(moved) < 0.35, "and only a little"


def test_it_weighs_less_than_a_second_person(yard, boat, cast, look):
    before = level_of(worked_out(yard)[1])
    reference(look)
    dead = record(look, DEAD)
    with_taps = level_of(worked_out(yard)[1]) - before
    dead.delete()
    yard.look(boat, cast.bea.person, {DECK: 3})
    with_bea = level_of(worked_out(yard)[1]) - before
    assert 0 < with_taps < 0.6 * with_bea


def test_it_clears_no_doubt(yard, boat, look):
    reference(look)
    for _ in range(5):
        record(look, CRISP)
    _, believed = worked_out(yard)
    assert stated_by_sound(believed)[0].level == 0
    assert [(d.checkpoint, d.level) for d in believed.arrays.doubts] == [(DECK, 3)]
    assert believed.arrays.doubt_level.max() == 3


def test_it_raises_no_doubt(yard, boat, cast):
    fine = yard.look(boat, cast.ben.person, {DECK: 0})
    reference(fine)
    record(fine, DEAD)
    _, believed = worked_out(yard)
    assert stated_by_sound(believed)[0].level == 3
    assert believed.arrays.doubts == ()


def test_its_scale_never_says_failed():
    scale = catalogue_scale()
    assert [scale.level(share) for share in (0, 10, 11, 30, 31, 60, 61, 100)] == [
        0, 0, 1, 1, 2, 2, 3, 3,
    ]  # fmt: skip


def catalogue_scale():
    return REAL.scales["tap-dull-share"]


def test_all_recordings_of_a_place_are_one_report(yard, look):
    """Ten recordings of one thing are not ten people who looked."""
    reference(look)
    record(look, DEAD)
    once = level_of(worked_out(yard)[1])
    for _ in range(9):
        record(look, DEAD)
    _, believed = worked_out(yard)
    assert len(stated_by_sound(believed)) == 1
    assert level_of(believed) == pytest.approx(once)


def test_few_taps_are_a_guess(yard, look):
    reference(look)
    record(look, DEAD, count=4)
    assert stated_by_sound(worked_out(yard)[1])[0].sureness == "guess"


@pytest.mark.parametrize("sides", ["no reference", "no taps", "too few"])
def test_nothing_to_compare_says_nothing(yard, look, sides):
    if sides != "no reference":
        reference(look)
    if sides != "no taps":
        record(look, DEAD, count=2 if sides == "too few" else 12)
    assert stated_by_sound(worked_out(yard)[1]) == []


def test_reference_taps_are_the_same_boats(yard, cast, look):
    other = yard.look(yard.boat("Fulmar"), cast.ben.person, {DECK: 1})
    reference(other)
    record(look, DEAD)
    assert stated_by_sound(worked_out(yard)[1]) == []


def test_reference_taps_may_come_from_another_visit(yard, boat, cast, look):
    record(look, DEAD)
    reference(yard.look(boat, cast.bea.person, {DECK: 1}))
    assert len(stated_by_sound(worked_out(yard)[1])) == 1


@pytest.mark.parametrize(
    "away", [{"state": "processing"}, {"state": "rejected", "fault": "damaged"}]
)
def test_what_was_not_read_does_not_count(yard, look, away):
    reference(look)
    Sound.objects.filter(pk=record(look, DEAD).pk).update(**away)
    assert stated_by_sound(worked_out(yard)[1]) == []


def test_it_goes_with_a_look_that_counts(yard, boat, cast, look):
    """Superseded, drafted, or without a finding of somebody who looked: no report."""
    reference(look)
    record(look, DEAD)
    assert stated_by_sound(worked_out(yard)[1])
    yard.look(boat, cast.ben.person, {"deck-cracks": 1}, supersedes=look.pk)
    reference(yard.look(boat, cast.bea.person, {DECK: 1}))
    assert stated_by_sound(worked_out(yard)[1]) == []
    blind = yard.look(boat, cast.hal.person, not_looked={DECK: "covered"})
    record(blind, DEAD)
    assert stated_by_sound(worked_out(yard)[1]) == []


def test_taps_from_before_a_repair_are_gone_and_reference_taps_stay(yard, boat, cast):
    at = timezone.now() - timedelta(days=30)
    old = yard.look(boat, cast.ben.person, {DECK: 3}, at=at)
    reference(old)
    record(old, DEAD)
    clearance_add(
        candidate=boat,
        by=cast.ola.person,
        checkpoint=DECK,
        basis="repair",
        level=0,
        document="Invoice 12",
        dated_on=(timezone.now() - timedelta(days=10)).date(),
    )
    assert stated_by_sound(worked_out(yard)[1]) == []
    new = yard.look(boat, cast.bea.person, {DECK: 0})
    record(new, CRISP)
    assert [one.level for one in stated_by_sound(worked_out(yard)[1])] == [0]


def test_it_never_makes_a_checkpoint_looked_at(yard, look):
    _, believed = worked_out(yard)
    looked = believed.arrays.looked.copy()
    reference(look)
    record(look, DEAD)
    after = worked_out(yard)[1]
    assert np.array_equal(after.arrays.looked, looked)
    assert np.array_equal(after.condition.coverage, believed.condition.coverage)


def test_a_catalogue_without_its_scale_reads_no_taps(yard, look):
    reference(look)
    record(look, DEAD)
    inputs, _ = worked_out(yard)
    snapshot = catalogue_snapshot()
    scales = {k: v for k, v in snapshot.catalogue.scales.items() if k != "tap-dull-share"}
    without = replace(snapshot, catalogue=replace(snapshot.catalogue, scales=scales))
    assert all(
        one.grader.kind != "sound"
        for one in list_arrays(replace(inputs, snapshot=without)).statements
    )


def test_people_read_it_as_what_it_is(yard, boat, look, cast):
    reference(look)
    record(look, DEAD)
    yard.recompute()
    said = cast.bea.get(f"/candidates/{boat.pk}/consensus").json()["consensus"]
    deck = next(one for one in said["checkpoints"] if one["checkpoint"] == DECK)
    assert sorted(report["kind"] for report in deck["reports"]) == ["member", "sound"]
    assert deck["looks"] == 1, "one person looked"
    assert deck["doubt"]["level"] == 3


def test_one_recording_takes_as_many_queries_as_many(yard, look):
    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            read_inputs(yard.list.pk)
        return len(counted)

    reference(look)
    queries()
    one = queries()
    for _ in range(5):
        record(look, DEAD)
    assert queries() == one
