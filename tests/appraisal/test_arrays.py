"""Findings as arrays: raters, evidence, ages of parts."""

from datetime import timedelta

import numpy as np
import pytest
from django.utils import timezone

from apps.appraisal.compute.arrays import list_arrays
from apps.appraisal.compute.computing import believe
from apps.appraisal.compute.inputs import read_inputs
from apps.catalogue.ages import effective_age
from apps.catalogue.vocabulary import SAYS_OF_CARE
from apps.reckoning.grader_priors import WIDENING
from apps.reckoning.priors import CARE_PRIOR
from apps.viewings.findings import FindingDraft
from apps.viewings.measures import Measured
from apps.viewings.models import Clearance, Viewing
from apps.viewings.services import viewing_add
from apps.viewings.submitting import SubmissionContent, submission_create


def arrays_of(yard):
    return list_arrays(read_inputs(yard.list.pk))


def place(arrays, code: str) -> int:
    return next(j for j, one in enumerate(arrays.checkpoints) if one.code == code)


def submit(yard, boat, by, *drafts: FindingDraft, conditions=None, **said):
    viewing = viewing_add(
        candidate=boat,
        by=by,
        starts_at=boat.created_at,
        state=Viewing.State.MADE,
        conditions=conditions or {},
    )
    content = SubmissionContent(state="submitted", findings=drafts, **said)
    return submission_create(viewing=viewing, by=by, content=content)[0]


def test_each_look_is_a_report_and_could_not_look_is_none(yard, cast):
    boat = yard.boat("Petrel")
    yard.look(boat, cast.ben.person, {"engine-oil": 2}, not_looked={"blister-depth": "afloat"})
    yard.look(boat, cast.bea.person, {"engine-oil": 1, "deck-cracks": 3})
    arrays = arrays_of(yard)
    assert sorted(arrays.reports.level) == [1, 2, 3]
    assert len(arrays.graders) == 2
    looked = arrays.looked[0]
    assert looked[place(arrays, "engine-oil")]
    assert not looked[place(arrays, "blister-depth")]


def test_an_empty_list_has_arrays_too(yard):
    arrays = arrays_of(yard)
    assert len(arrays.reports) == 0
    assert arrays.fleet.applies.shape == (0, len(arrays.checkpoints))


def test_a_professionals_report_is_another_and_a_tighter_grader(yard, cast):
    boat = yard.boat("Petrel")
    yard.look(boat, cast.ben.person, {"engine-oil": 2})
    yard.look(
        boat,
        cast.ben.person,
        {"engine-oil": 1},
        capacity="professional",
        profession="engine mechanic",
    )
    arrays = arrays_of(yard)
    assert [grader.kind for grader in arrays.graders] == ["member", "professional"]
    member, professional = arrays.grader_priors.lean_sd
    assert professional < member
    assert arrays.grader_priors.log_spread_mean[1] < arrays.grader_priors.log_spread_mean[0]


@pytest.mark.parametrize("sureness", ["sure", "fairly", "guess"])
def test_how_sure_widens_the_spread(yard, cast, sureness):
    boat = yard.boat("Petrel")
    draft = FindingDraft("engine-oil", "looked", level=1, sureness=sureness)
    submit(yard, boat, cast.ben.person, draft)
    assert arrays_of(yard).reports.widening.tolist() == [WIDENING[sureness]]


WET = {"weather": "wet"}


@pytest.mark.parametrize(
    ("code", "conditions", "counts_as"),
    [
        ("keel-joint-line", WET, "guess"),
        ("keel-joint-line", {"weather": "dry"}, "sure"),
        ("engine-mounts", WET, "sure"),
        ("stanchions", {"walk_under_cover": True}, "guess"),
        ("stanchions", {}, "sure"),
    ],
)
def test_a_look_that_was_hampered_counts_as_a_guess(yard, cast, code, conditions, counts_as):
    boat = yard.boat("Petrel")
    draft = FindingDraft(code, "looked", level=1, sureness="sure")
    submit(yard, boat, cast.ben.person, draft, conditions=conditions)
    arrays = arrays_of(yard)
    assert arrays.reports.widening.tolist() == [WIDENING[counts_as]]
    assert [said.sureness for said in arrays.statements] == [counts_as]


def test_so_does_a_meter_that_was_read_there_and_a_professionals_word_does_not(yard, cast):
    boat = yard.boat("Petrel")
    read = FindingDraft("keel-joint-line", "looked", measured=Measured(0.1, "mm"), sureness="sure")
    submit(yard, boat, cast.ben.person, read, conditions=WET)
    report = FindingDraft("keel-joint-line", "looked", level=1, sureness="sure")
    submit(
        yard, boat, cast.ola.person, report, conditions=WET,
        capacity="professional", profession="surveyor",
    )  # fmt: skip
    assert {s.grader.kind: s.sureness for s in arrays_of(yard).statements} == {
        "meter": "guess",
        "professional": "sure",
    }


def test_a_meter_is_a_tight_grader_and_its_reader_counts_only_where_they_differ(yard, cast):
    boat = yard.boat("Petrel")
    checkpoint = next(
        c for c in arrays_of(yard).checkpoints if c.measure is not None and c.measure.unit == "mm"
    )
    scale = read_inputs(yard.list.pk).snapshot.catalogue.scales[checkpoint.measure.scale]
    value = (scale.breaks[1] + scale.breaks[2]) / 2
    read = scale.level(value)
    draft = FindingDraft(checkpoint.code, "looked", measured=Measured(value, "mm"))
    submit(yard, boat, cast.ben.person, draft)
    arrays = arrays_of(yard)
    assert [grader.kind for grader in arrays.graders] == ["meter"]
    assert arrays.reports.level.tolist() == [read]
    assert arrays.reports.widening.tolist() == [1.0]
    other = FindingDraft(checkpoint.code, "looked", level=0, measured=Measured(value, "mm"))
    submit(yard, boat, cast.bea.person, other)
    arrays = arrays_of(yard)
    assert sorted(arrays.reports.level.tolist()) == sorted([read, read, 0])
    assert {grader.kind for grader in arrays.graders} == {"meter", "member"}


def test_what_a_boat_has_not_does_not_apply(yard, cast):
    boat = yard.boat("Petrel")  # a bolted fin
    arrays = arrays_of(yard)
    assert not arrays.fleet.applies[0, place(arrays, "lifting-keel-gear")]
    submit(yard, boat, cast.ben.person, FindingDraft("stove-and-alarms", "does_not_apply"))
    arrays = arrays_of(yard)
    assert not arrays.fleet.applies[0, place(arrays, "stove-and-alarms")]


def test_does_not_apply_gives_way_to_somebody_who_found_it(yard, cast):
    boat = yard.boat("Petrel")
    submit(yard, boat, cast.ben.person, FindingDraft("stove-and-alarms", "does_not_apply"))
    yard.look(boat, cast.bea.person, {"stove-and-alarms": 3})
    arrays = arrays_of(yard)
    j = place(arrays, "stove-and-alarms")
    assert arrays.fleet.applies[0, j]
    assert arrays.doubt_level[0, j] == 3


def test_a_finding_on_what_she_turns_out_not_to_have_no_longer_counts(yard, cast):
    boat = yard.boat("Petrel", keel="lifting")
    yard.look(boat, cast.ben.person, {"lifting-keel-gear": 4})
    assert arrays_of(yard).doubt_level.max() == 4
    type(boat).objects.filter(pk=boat.pk).update(keel="bolted_fin")
    arrays = arrays_of(yard)
    assert len(arrays.reports) == 0
    assert arrays.doubt_level.max() == -1


@pytest.mark.parametrize(
    ("checkpoint", "kinds"), [("guard-wires", ["document"]), ("keel-joint-line", ["member"])]
)
def test_a_receipt_counts_only_for_what_it_settles(yard, cast, checkpoint, kinds):
    boat = yard.boat("Petrel")
    yard.look(boat, cast.ben.person, {checkpoint: 4})
    Clearance.objects.create(
        candidate=boat,
        checkpoint_id=checkpoint,
        basis="receipt",
        level=0,
        document="receipt 5",
        dated_on=timezone.localdate() + timedelta(days=1),
        added_by=yard.organiser,
    )
    assert [grader.kind for grader in arrays_of(yard).graders] == kinds


def test_a_superseded_submission_is_no_evidence(yard, cast):
    boat = yard.boat("Petrel")
    first = submit(yard, boat, cast.ben.person, FindingDraft("engine-oil", "looked", level=4))
    content = SubmissionContent(
        state="submitted",
        supersedes=first.pk,
        findings=(FindingDraft("engine-oil", "looked", level=1),),
    )
    submission_create(viewing=first.viewing, by=cast.ben.person, content=content)
    assert arrays_of(yard).reports.level.tolist() == [1]


def test_parts_are_as_old_as_their_renewal(yard):
    yard.boat("Petrel", build_year=1990, rigging_year=2020, engine_year=2010)
    arrays = arrays_of(yard)
    year = read_inputs(yard.list.pk).today.year
    ages = {
        checkpoint.belief.ages_with: age
        for checkpoint, age in zip(arrays.checkpoints, arrays.fleet.part_age[0], strict=True)
    }
    assert ages["boat"] == pytest.approx(effective_age(year - 1990))
    assert ages["standing_rigging"] == year - 2020
    assert ages["engine"] == year - 2010


def test_order_makes_no_difference(yard, cast):
    boats = [yard.boat(name) for name in ("Petrel", "Fulmar")]
    for boat in boats:
        for who in (cast.ben, cast.bea, cast.hal):
            yard.look(boat, who.person, {"engine-oil": 1, "deck-cracks": 2})
    arrays = arrays_of(yard)
    again = arrays_of(yard)
    for name in arrays.reports.__slots__:
        np.testing.assert_array_equal(getattr(arrays.reports, name), getattr(again.reports, name))


def test_a_known_year_decides_whatever_anybody_says(yard, cast):
    """Wire of 20 years is at least defective; of an unknown year it may be anything."""
    year = read_inputs(yard.list.pk).today.year
    old = yard.boat("Petrel", build_year=1990, rigging_year=year - 20)
    unknown = yard.boat("Fulmar", build_year=1990)
    for boat in (old, unknown):
        for who in (cast.ben, cast.bea):
            yard.look(boat, who.person, {"wire-age": 0})
    inputs = read_inputs(yard.list.pk)
    believed = believe(inputs)
    j = [one.code for one in believed.arrays.checkpoints].index("wire-age")
    at = {boat.id: i for i, boat in enumerate(inputs.boats)}
    assert believed.belief.level[at[old.pk], j, :3].max() < 1e-6
    assert believed.belief.level[at[unknown.pk], j, :3].sum() > 0.9


def test_an_age_that_was_read_on_her_knows_better_than_the_year(yard, cast):
    year = read_inputs(yard.list.pk).today.year
    boat = yard.boat("Petrel", build_year=1990, rigging_year=year - 20)
    draft = FindingDraft("wire-age", "looked", level=0, measured=Measured(3.0, "years"))
    submit(yard, boat, cast.ben.person, draft)
    arrays = arrays_of(yard)
    assert arrays.fleet.at_least is not None
    assert not arrays.fleet.at_least[arrays.fleet.applies].any()


def care_after(yard, cast, *reasons: str) -> np.ndarray:
    """P(care class) of a boat where two people could not look, each for all reasons."""
    boat = yard.boat("Petrel")
    codes = ("engine-oil", "deck-cracks", "blister-depth")
    for who in (cast.ben, cast.bea):
        given = dict(zip(codes, reasons, strict=False))
        yard.look(boat, who.person, {}, not_looked=given)
    return believe(read_inputs(yard.list.pk)).belief.care[0]


@pytest.mark.parametrize("reason", ["no_leave", "locked", "stowed_over"])
def test_what_was_refused_or_hidden_says_a_little_of_her_care(yard, cast, reason):
    """As a likelihood ratio on the care class, once a boat however often it is said."""
    care = care_after(yard, cast, reason)
    weighed = np.array(CARE_PRIOR) * SAYS_OF_CARE[reason]
    np.testing.assert_allclose(care, weighed / weighed.sum())
    assert CARE_PRIOR[2] < care[2] < CARE_PRIOR[2] + 0.1


@pytest.mark.parametrize("reasons", [("afloat",), ("covered", "frost"), ("no_access",), ()])
def test_what_the_weather_forbade_or_nobody_explained_says_nothing(yard, cast, reasons):
    np.testing.assert_allclose(care_after(yard, cast, *reasons), CARE_PRIOR)


def test_reasons_of_several_kinds_come_together(yard, cast):
    care = care_after(yard, cast, "no_leave", "locked", "stowed_over")
    weighed = np.prod([CARE_PRIOR, *SAYS_OF_CARE.values()], axis=0)
    np.testing.assert_allclose(care, weighed / weighed.sum())
