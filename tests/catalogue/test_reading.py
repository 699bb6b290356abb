"""Reading the catalogue's files; a failure names every fault."""

import tomllib
from contextlib import suppress
from datetime import date

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from apps.catalogue import vocabulary
from apps.catalogue.checking import expected_costs
from apps.catalogue.content import Measure, RemedyTrigger, ThreePoints
from apps.catalogue.reading import CatalogueInvalid, catalogue_from, read_catalogue
from apps.catalogue.scales import ScaleEntry
from apps.catalogue.snapshot import Catalogue, CostBasis
from tests.catalogue.conftest import SMALL
from tests.catalogue.real import REAL


def faults(files) -> list[str]:
    with pytest.raises(CatalogueInvalid) as refused:
        read_catalogue(files.folder)
    return refused.value.faults


def test_it_works(files):
    catalogue = read_catalogue(files.folder)
    assert catalogue.money.basis == CostBasis(2024, "USD", 10.0)
    assert list(catalogue.areas) == ["sails", "keel"], "in walking order"
    assert list(catalogue.checkpoints) == ["joint", "iron", "mainsail"], "in walking order"
    joint = catalogue.checkpoints["joint"]
    assert (joint.area, joint.walk_away_level, joint.guarded) == ("keel", 4, True)
    assert joint.measure == Measure("gap", "mm", "gap-mm")
    assert joint.remedies[0] == RemedyTrigger("reseal", (0, 0.1, 0.8, 0.2, 0), (0, 1, 1, 1, 0))
    iron = catalogue.checkpoints["iron"]
    assert (joint.belief.breakage, iron.belief.breakage) == (0.05, vocabulary.BREAKAGE)
    assert (iron.tools, iron.cautions, iron.remedies, iron.measure) == ((), (), (), None)
    assert (iron.guarded, iron.walk_away_level) == (False, None)
    reseal = catalogue.remedies["reseal"]
    assert reseal.hours == ThreePoints(6, 12, 24)
    assert (reseal.loa_exponent, reseal.own_hours_factor) == (1.0, 2.5)
    assert catalogue.remedies["new-main"].loa_exponent == 0
    assert catalogue.running["insurance"].cost == ThreePoints(0.01, 0.015, 0.02)


KEEL, SAILS = "checkpoints/keel.toml", "checkpoints/sails.toml"
REMEDIES, SCALES = "remedies.toml", "scales.toml"


@pytest.mark.parametrize(
    ("name", "old", "new", "expected"),
    [
        (KEEL, ', "The keel shifts."', "", "joint: levels: needs 5 descriptions, has 4"),
        (KEEL, '["structural", "flooding"]', "[]", "joint: concerns: needs 1 concerns, has 0"),
        (KEEL, "weight = 4.5", "weight = 9", "joint: weight: must be at most 5, is 9"),
        (KEEL, "weight = 4.5", "weight = nan", "joint: weight: nan is not of type 'number'"),
        (KEEL, "weight = 4.5", "wait = 4.5", "joint: does not know wait"),
        (KEEL, "weight = 4.5", "wait = 4.5", "joint: lacks weight"),
        (KEEL, "professional_from = 2", "professional_from = 5",
         "joint: professional_from: must be at most 4, is 5"),
        (KEEL, 'code = "joint"', 'code = "The Joint"',
         "The Joint: code: 'The Joint' does not match '^[a-z0-9]+(-[a-z0-9]+)*$'"),
        (KEEL, 'code = "joint"', "", "checkpoint 1: lacks code"),
        (KEEL, 'professional = "surveyor"', 'professional = "priest"',
         "joint: professional: 'priest' is none of '', 'surveyor', 'rigger', 'engine mechanic', "
         "'electrician', 'gas fitter', 'sailmaker', 'yard', 'lawyer'"),
        (KEEL, '"afloat"', '"fog"', "joint: prevented_by[1]: 'fog' is none of"),
        (KEEL, '"bolted_fin"', '"fin"', "joint: applies.keel[1]: 'fin' is none of"),
        (KEEL, "probability = [0, 0.1, 0.8, 0.2, 0]", "probability = [0, 0.1]",
         "joint: remedies[1].probability: needs 5 numbers, has 2"),
        (KEEL, "0.8, 0.2, 0]", "0.8, 2, 0]",
         "joint: remedies[1].probability[4]: must be at most 1, is 2"),
        (KEEL, 'cautions = ["stands"]', 'cautions = ["ghosts"]',
         "joint: cautions: there is no 'ghosts'"),
        (KEEL, 'code = "rebed"', 'code = "rebend"', "joint: remedies: there is no 'rebend'"),
        (KEEL, 'code = "rebed"', 'code = "reseal"',
         "joint: remedies: 'reseal' is called for twice"),
        (KEEL, 'scale = "gap-mm"', 'scale = "gap"', "joint: measure: there is no 'gap'"),
        (KEEL, 'unit = "mm"', 'unit = "in"', "joint: measure: unit 'in' is not the scale's 'mm'"),
        (KEEL, "extent = [0, 1, 1, 1, 0]", "extent = [0, 0, 1, 1, 0]",
         "joint: remedies: reseal: is likely at level 1 but has no extent there"),
        (KEEL, "professional_only = false", "professional_only = false\nreceipt_clears = true",
         "joint: receipt_clears: a receipt clears neither structure"),
        (KEEL, 'area = "keel"', 'area = "fin"', "area: 'fin' belongs in a file of its own name"),
        (SAILS, "position = 10", "position = 20", "position: 20 is taken by another area"),
        (KEEL, 'code = "iron"', 'code = "joint"', "joint: code: 'joint' is used twice"),
        (SAILS, 'code = "mainsail"', 'code = "iron"', "iron: code: 'iron' is used twice"),
        (KEEL, 'look = "Look at both sides."', "", "iron: lacks look"),
        (KEEL, '"bolted_bulb"] }', '"bolted_bulb"', "cannot be read: "),
        (REMEDIES, "hours = [6, 12, 24]", "hours = [6, 24]",
         "reseal: hours: needs 3 numbers (low, likely, high), has 2"),
        (REMEDIES, "hours = [6, 12, 24]", "hours = [6, 24, 12]",
         "reseal: hours: low, likely and high are out of order"),
        (REMEDIES, ", exponent = 1 ", "", "reseal: scale: lacks exponent"),
        (REMEDIES, 'by = "none"', 'by = "none", exponent = 2',
         "new-main: scale: an exponent needs by = 'loa'"),
        (REMEDIES, '["lift-out"]', '["float-out"]', "reseal: enabling: there is no 'float-out'"),
        (REMEDIES, 'area = "sails"', 'area = "sailing"', "new-main: area: there is no 'sailing'"),
        (REMEDIES, "[95, 120, 150]", "[95, 90, 150]",
         "yard_rate: low, likely and high are out of order"),
        (SCALES, "[0.2, 1, 2, 5]", "[0.2, 2, 1, 5]", "gap-mm: breaks: must rise at each step"),
        (SCALES, "range = [0, 100]", "range = [0, 4]", "gap-mm: range: leaves out 5"),
        ("price_index.toml", "2024 = 313.689", "", "annual: lacks the base year 2024"),
        ("price_index.toml", "2024 =", "last =", "annual: does not know last"),
        ("purchase.toml", 'per = "m"', 'per = "value"',
         "survey: per: 'value' is none of 'm', 'boat'"),
    ],
)  # fmt: skip
def test_a_fault_is_named(files, name, old, new, expected):
    files.change(name, old, new)
    assert any(fault.startswith(f"{name}: {expected}") for fault in faults(files)), faults(files)


def test_worse_may_not_be_cheaper(files):
    # PERT means at 120 an hour: reseal 13 x 120 + 216.67 = 1,776.67; rebed 53.33 x 120 + 1,550.
    files.change(KEEL, "[0, 0, 0.1, 0.8, 1]", "[0, 0, 0.1, 0, 1]")
    assert faults(files) == [
        "checkpoints/keel.toml: joint: remedies: "
        "expected cost falls from 2,216 at level 2 to 355 at level 3"
    ]


def test_all_faults_of_all_files_at_once(files):
    files.change(KEEL, "weight = 4.5", "weight = 0")
    files.change("checkpoints/sails.toml", 'code = "new-main"', 'code = "old-main"')
    files.change(REMEDIES, 'urgency = "now"', 'urgency = "soon"')
    (files.folder / "running.toml").unlink()
    assert faults(files) == [
        "running.toml: is missing",
        "remedies.toml: reseal: urgency: 'soon' is none of 'now', 'later'",
        "checkpoints/keel.toml: joint: weight: must be at least 0.5, is 0",
        "checkpoints/sails.toml: mainsail: remedies: there is no 'old-main'",
    ]


def test_a_file_that_cannot_be_read_leads_to_no_further_faults(files):
    files.write(REMEDIES, "base_year = ")
    assert [fault.split(": ")[:2] for fault in faults(files)] == [[REMEDIES, "cannot be read"]]


def test_an_empty_folder(tmp_path):
    with pytest.raises(CatalogueInvalid, match="checkpoints: has no files"):
        read_catalogue(tmp_path)


# --- Whatever the files hold, it is a catalogue or a list of faults ------------------------------

anything = st.recursive(
    st.none() | st.booleans() | st.integers(-3, 9) | st.floats() | st.text(max_size=3)
    | st.just(date(2024, 1, 1)) | st.sampled_from(["joint", "keel", "lift-out"]),
    lambda inner: st.lists(inner, max_size=5)
    | st.dictionaries(st.sampled_from(["code", "scale", "x"]), inner, max_size=3),
    max_leaves=6,
)  # fmt: skip


def places(value, path=()):
    """Every place in nested documents where a value could be inserted."""
    steps = value.items() if isinstance(value, dict) else enumerate(value)
    for step, inner in steps:
        if path:
            yield (*path, step)
        if isinstance(inner, dict | list):
            yield from places(inner, (*path, step))


PLACES = list(places({name: tomllib.loads(text) for name, text in SMALL.items()}))


@hypothesis_settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(place=st.sampled_from(PLACES), put=anything)
def test_anything_anywhere_is_a_catalogue_or_a_list_of_faults(place, put):
    documents = {name: tomllib.loads(text) for name, text in SMALL.items()}
    inner = documents
    for step in place[:-1]:
        inner = inner[step]
    inner[place[-1]] = put
    with suppress(CatalogueInvalid):  # any other exception is a fault of the reader
        assert len(catalogue_from(documents).checkpoints) == 3


@given(
    breaks=st.lists(st.integers(1, 99), min_size=4, max_size=4, unique=True).map(sorted),
    values=st.tuples(st.floats(0, 100), st.floats(0, 100)).map(sorted),
)
def test_a_worse_value_is_never_a_better_level(breaks, values):
    def scale(rising, edges):
        return ScaleEntry(
            code="s",
            title="s",
            unit="mm",
            range=(0, 100),
            rising=rising,
            breaks=tuple(edges),
            source="",
        )

    rising, falling = scale(True, breaks), scale(False, reversed(breaks))
    low, high = values
    assert 0 <= rising.level(low) <= rising.level(high) <= 4
    assert 0 <= falling.level(high) <= falling.level(low) <= 4


def test_a_scale_refuses_what_is_outside_its_range(files):
    gap = read_catalogue(files.folder).scales["gap-mm"]
    assert [gap.level(value) for value in (0, 0.2, 0.21, 2, 5, 5.01)] == [0, 0, 1, 2, 3, 4]
    with pytest.raises(ValueError, match="-1 is outside 0 to 100 mm"):
        gap.level(-1)


# --- The catalogue that comes with the service ---------------------------------------------------


@pytest.fixture(scope="module")
def real() -> Catalogue:
    return REAL


def test_the_catalogue_is_sound_and_nothing_in_it_is_idle(real):
    checkpoints = real.checkpoints.values()
    assert len(checkpoints) >= 90
    assert {trigger.code for each in checkpoints for trigger in each.remedies} == set(real.remedies)
    assert {code for each in checkpoints for code in each.cautions} == set(real.cautions)
    measured = {each.measure.scale for each in checkpoints if each.measure}
    assert measured == set(real.scales) - {"tap-dull-share"}  # read off recordings
    assert {code for each in real.remedies.values() for code in each.enabling} == set(real.enabling)


def test_dated_gear_and_small_things_close_by_a_receipt(real):
    closed = {each.code for each in real.checkpoints.values() if each.receipt_clears}
    assert closed >= {"dated-safety-gear", "fire-extinguishers", "hatches", "guard-wires"}
    assert all(real.checkpoints[code].walk_away_level is None for code in closed)


def test_failed_costs_more_than_sound(real):
    for checkpoint in real.checkpoints.values():
        if checkpoint.remedies:
            costs = expected_costs(checkpoint, real)
            assert costs[4] > costs[0], checkpoint.code


def test_a_walk_away_finding_is_judged_by_a_professional(real):
    for checkpoint in real.checkpoints.values():
        if checkpoint.walk_away_level is not None:
            assert checkpoint.professional, checkpoint.code
            assert checkpoint.professional_from <= checkpoint.walk_away_level, checkpoint.code


@pytest.mark.parametrize(
    ("area", "caution"),
    [
        ("cooking-gas", "gas-petrol-co"),
        ("fuel", "gas-petrol-co"),
        ("engine", "engine-shaft"),
        ("through-hulls", "seacocks"),
        ("keel", "stands"),
        ("underbody", "stands"),
    ],
)
def test_areas_that_can_hurt_carry_their_caution(real, area, caution):
    carried = [each.cautions for each in real.checkpoints.values() if each.area == area]
    assert any(caution in cautions for cautions in carried), carried
