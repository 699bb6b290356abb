"""The catalogue's scales against the standards and rules they are taken from.

The standards grade paint, rust and play; that a grade is one of our five levels is the project's
own estimate. What is checked there is only that a worse grade is never a better level.
"""

import pytest

from tests.catalogue.real import REAL as CATALOGUE

SCALES = CATALOGUE.scales
MEASURED = [each for each in CATALOGUE.checkpoints.values() if each.measure]
RUST = SCALES["rust-area-percent"]
INCH_MM = 25.4
SQUARE_FOOT_M2 = 0.092903


def published(scale, standard: str) -> dict[str, float]:
    return {each.grade: each.value for each in scale.grades if each.standard == standard}


def grade(table: dict[str, float], value: float) -> str:
    """The best grade whose upper limit the value does not exceed."""
    return next(name for name, limit in sorted(table.items(), key=lambda row: row[1])
                if value <= limit)  # fmt: skip


# --- Rust ----------------------------------------------------------------------------------------


def test_rust_grades_of_iso_4628_3():
    # ISO 4628-3, rusted area in % for Ri 0 to Ri 5, as reproduced by a coatings reference; Ri 5 is
    # given as 40 to 50.
    assert published(RUST, "ISO 4628-3") == {
        "Ri 0": 0,
        "Ri 1": 0.05,
        "Ri 2": 0.5,
        "Ri 3": 1,
        "Ri 4": 8,
        "Ri 5": 50,
    }


def test_rust_grades_of_astm_d610():
    # ASTM D610-08(2012), Table 1: upper limit of the rusted area in %.
    limits = (0.01, 0.03, 0.1, 0.3, 1, 3, 10, 16, 33, 50, 100)
    assert published(RUST, "ASTM D610") == {
        str(10 - step): limit for step, limit in enumerate(limits)
    }


@pytest.mark.parametrize(
    ("iso", "astm"), [("Ri 1", "8"), ("Ri 2", "6"), ("Ri 3", "6"), ("Ri 4", "4"), ("Ri 5", "1")]
)
def test_the_two_standards_correspond(iso, astm):
    # As printed with ISO 4628-3: Ri 1 is 8, Ri 2 and Ri 3 are 6, Ri 4 is 4, Ri 5 is 1.
    area = published(RUST, "ISO 4628-3")[iso]
    assert grade(published(RUST, "ASTM D610"), area) == astm


@pytest.mark.parametrize(("square_feet", "astm", "level"), [(3.0, "4", 3), (3.1, "3", 3)])
def test_an_iron_keel_worked_by_hand(square_feet, astm, level):
    # 18 patches of 6 by 4 inches on a side of 30 square feet are 10%: grade 4 (over 3 up to 10);
    # a tenth of a square foot more is 10.3%: grade 3.
    share = 100 * square_feet / 30
    assert grade(published(RUST, "ASTM D610"), share) == astm
    assert RUST.level(share) == level


def test_rust_grades_as_levels():
    levels = [RUST.level(area) for area in published(RUST, "ISO 4628-3").values()]
    assert levels == [0, 0, 1, 2, 2, 3]
    assert RUST.level(100) == 3, "a share of rust does not say that a plate is holed"


# --- Where a measure ends ------------------------------------------------------------------------


@pytest.mark.parametrize("checkpoint", MEASURED, ids=lambda each: each.code)
def test_no_measure_alone_says_to_walk_away(checkpoint):
    """Rust above half, a gap of 20 mm or a deck that is dull all over is no plate that is holed, no
    keel that has shifted, no deck that has gone: that is seen, and said by whoever saw it.
    """
    scale = SCALES[checkpoint.measure.scale]
    worst = max(scale.level(scale.lowest), scale.level(scale.highest))
    assert checkpoint.walk_away_level is None or worst < checkpoint.walk_away_level


@pytest.mark.parametrize("checkpoint", MEASURED, ids=lambda each: each.code)
def test_only_what_the_words_count_is_failed_by_a_measure(checkpoint):
    # A battery with a dead cell by its volts, a link that has lost half by its thickness.
    counted = {"battery-volts": "10.5", "anchor-and-chain": "half gone"}
    scale = SCALES[checkpoint.measure.scale]
    worst = max(scale.level(scale.lowest), scale.level(scale.highest))
    assert (worst == 4) == (checkpoint.code in counted)
    assert counted.get(checkpoint.code, "") in checkpoint.levels[4]


@pytest.mark.parametrize("mm", [5.1, 7, 100])
def test_a_wide_gap_at_the_keel_is_defective_however_wide(mm):
    assert SCALES["keel-joint-gap-mm"].level(mm) == 3


@pytest.mark.parametrize("hours", [1, 60, 1_500])
def test_few_engine_hours_are_nothing_to_boast_of(hours):
    # An engine that stood idle rusts (mechanics' common talk, no source): the meter is never better
    # than ordinary, and no level's words go by few hours.
    assert SCALES["engine-hours"].level(hours) == 1
    told = " ".join(CATALOGUE.checkpoints["engine-record"].levels)
    assert "next to none" not in told
    assert "modest" not in told


# --- Blisters ------------------------------------------------------------------------------------


def test_blister_quantity_of_iso_4628_2():
    # ISO 4628-1 rates quantity 0 to 5; 4628-2 gives pictures from 2 up. The words are from memory.
    scale = SCALES["iso-4628-2-blister-quantity"]
    assert [(each.grade, each.value) for each in scale.grades] == [
        ("0, none", 0),
        ("1, very few", 1),
        ("2, few", 2),
        ("3, moderate", 3),
        ("4, considerable", 4),
        ("5, dense", 5),
    ]
    assert [scale.level(rating) for rating in range(6)] == [0, 1, 1, 2, 3, 3]


def test_blister_size_of_iso_4628_2():
    # Classes S0 to S5; that S1 is seen only at ten times magnification is the standard's note, the
    # other sizes are from memory.
    scale = SCALES["iso-4628-2-blister-size"]
    assert [each.grade.split(",")[0] for each in scale.grades] == [f"S{n}" for n in range(6)]
    assert [each.value for each in scale.grades] == list(range(6))
    assert [scale.level(size) for size in range(6)] == [0, 0, 1, 1, 2, 3]


def test_no_count_or_size_of_blisters_alone_says_failed():
    # Fewer than 10 of some 4,000 hulls were weakened by blisters (a US surveyor's essays): whether
    # a laminate has failed is for a surveyor to say.
    for code in ("iso-4628-2-blister-quantity", "iso-4628-2-blister-size", "moisture-ratio"):
        assert SCALES[code].level(SCALES[code].highest) == 3


# --- Play ----------------------------------------------------------------------------------------


def test_play_of_a_shaft_in_its_bearing():
    play = SCALES["shaft-bearing-play-ratio"]
    # Guidance quoted from an engineer's column: up to 0.010 in on a 2 in shaft.
    assert play.level(0.010 / 2) == 0
    # New clearance 0.001 to 0.003 in for each inch of shaft (engineers' posts).
    assert play.level(0.003) == 0
    # Two published limits agree at a shaft of 1 1/4 in: 1/32 in, and a bore of 1.025 shafts.
    assert (1 / 32) / 1.25 == 0.025
    assert play.level(0.025) == 2
    assert play.level(0.0251) == 3
    # On a 1 in shaft 1/32 in is past 2.5%, and so is 1.5 mm (common practice, no source).
    assert play.level((1 / 32) / 1) == 3
    assert play.level(1.5 / INCH_MM) == 3


# --- Volts and years -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("volts", "level"), [(12.7, 0), (12.4, 1), (12.2, 2), (12.0, 3), (11.8, 3), (10.5, 4)]
)
def test_rest_volts_of_a_lead_acid_battery(volts, level):
    # From memory, 25 degrees C: 12.7 full, 12.4 three quarters, 12.2 half, 12.0 a quarter, 11.8
    # flat; with a dead cell about 10.5.
    assert SCALES["battery-rest-volts"].level(volts) == level


@pytest.mark.parametrize(
    ("code", "sound_at", "due_at", "overdue_at"),
    [
        # Wire 10 to 12 years in ordinary cruising (a magazine's letters, riggers).
        ("standing-rigging-age-years", 9, 12, 16),
        # Most makers ask for a new seal after 7 to 10 years (a surveyor's article).
        ("saildrive-seal-age-years", 4, 10, 11),
        # Gas hose 5 to 10 years by its date code: common practice, no source.
        ("gas-hose-age-years", 3, 10, 11),
        # Fuel hose 10 years: common practice, no source.
        ("fuel-hose-age-years", 6, 10, 16),
        # Woven polyester 3,500 to 4,000 h (a magazine): 15 years and more at 240 h a year.
        ("sail-age-years", 4, 8, 3_750 / 240),
        # Lead-acid 3 to 6 years: common practice, no source.
        ("battery-age-years", 3, 6, 8),
    ],
)
def test_lives_of_parts(code, sound_at, due_at, overdue_at):
    scale = SCALES[code]
    assert scale.level(sound_at) == 0
    assert scale.level(due_at) in (1, 2)
    assert scale.level(overdue_at) == 3
    assert scale.level(scale.highest) == 3, "age alone never says failed"


def test_running_hours_of_a_small_diesel():
    # Small diesels 5,000 to 8,000 h: common practice, no source.
    hours = SCALES["engine-hours"]
    assert [hours.level(at) for at in (1_500, 5_000, 8_000, 8_500)] == [1, 1, 2, 3]
    assert hours.level(hours.highest) == 3, "hours alone never say failed"


# --- Areas ---------------------------------------------------------------------------------------


def test_dull_deck_in_square_feet():
    # A hand's breadth, a patch of four square feet, several areas over ten: the project's own
    # estimate, stated in square feet.
    deck = SCALES["deck-dull-area-m2"]
    assert deck.level(0) == 0
    assert deck.level(0.25 * SQUARE_FOOT_M2) == 1
    assert deck.level(4 * SQUARE_FOOT_M2) == 2
    assert deck.level(10 * SQUARE_FOOT_M2) == 3
    assert deck.level(200 * SQUARE_FOOT_M2) == 3, "most of a deck depends on the deck"
