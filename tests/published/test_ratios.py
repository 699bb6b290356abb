"""Design ratios against worked examples, and what they do with missing or impossible inputs."""

import math
from dataclasses import fields, replace

import pytest

from apps.reckoning import ratios
from apps.reckoning.ratios import Particulars, design_ratios

FOOT = 0.3048
POUND = 0.45359237

# An invented 34 ft boat in round figures: LOA 34 ft, LWL 28 ft, beam 11 ft, 12,000 lb, ballast
# 4,800 lb, 560 sq ft. Expected values are the formulas worked by hand in feet and pounds.
ROUND_FIGURES = Particulars(
    loa_m=34 * FOOT,
    lwl_m=28 * FOOT,
    beam_m=11 * FOOT,
    displacement_kg=12_000 * POUND,
    ballast_kg=4_800 * POUND,
    sail_area_m2=560 * FOOT**2,
)


def test_round_figures_boat_worked_by_hand():
    found = design_ratios(ROUND_FIGURES)
    assert found.displacement_length == pytest.approx(5.357 / 0.021952, abs=0.05)  # 244.0
    assert found.sail_area_displacement == pytest.approx(17.09, abs=0.005)  # 560 / 187.5^(2/3)
    assert found.ballast_ratio == pytest.approx(0.400)
    assert found.capsize_screening == pytest.approx(1.922, abs=0.0005)  # 11 / 187.5^(1/3)
    assert found.motion_comfort == pytest.approx(25.53, abs=0.005)  # 12,000 / (19.37 x 24.27)
    assert found.hull_speed_kn == pytest.approx(7.09, abs=0.005)  # 1.34 x sqrt(28)


def test_capsize_screening_of_a_published_exercise():
    # Dugopolski, Elementary and Intermediate Algebra, 4th ed. (2012), p. 605, exercise 103:
    # C = 4 d^(-1/3) b, d = 23,245 lb, b = 13.5 ft. Printed solutions give 1.89.
    found = ratios.capsize_screening(beam_m=13.5 * FOOT, displacement_kg=23_245 * POUND)
    assert found == pytest.approx(1.89, abs=0.005)


def test_sail_area_displacement_of_a_published_exercise():
    # The same, p. 606, exercise 104: S = 16 A d^(-2/3), A = 810 sq ft, d = 23,245 lb. Printed
    # solutions give 15.9.
    found = ratios.sail_area_displacement(
        sail_area_m2=810 * FOOT**2, displacement_kg=23_245 * POUND
    )
    assert found == pytest.approx(15.9, abs=0.05)


def test_sail_area_displacement_is_the_same_in_metres():
    # With sea water at 1,025 kg/m3: m2 over m3 to the power 2/3 is a pure number.
    metric = 52.03 / (5443 / 1025) ** (2 / 3)
    found = ratios.sail_area_displacement(sail_area_m2=52.03, displacement_kg=5443)
    assert found == pytest.approx(metric, rel=1e-3)


@pytest.mark.parametrize("lwl_m", [6.0, 8.534, 12.0])
def test_hull_speed_has_its_wavelength_equal_to_the_waterline(lwl_m):
    # Deep-water waves: celerity c = sqrt(g L / 2 pi) (Airy). The customary 1.34 rounds it.
    celerity_kn = math.sqrt(9.80665 * lwl_m / (2 * math.pi)) / (1852 / 3600)
    assert ratios.hull_speed_kn(lwl_m=lwl_m) == pytest.approx(celerity_kn, rel=2e-3)


def test_comfort_exponent_is_the_printed_one():
    # 4/3 in place of 1.33 gives 25.32 on the round-figures boat: the two must not be confused.
    with_four_thirds = 12_000 / (0.65 * (0.7 * 28 + 0.3 * 34) * 11 ** (4 / 3))
    assert with_four_thirds == pytest.approx(25.32, abs=0.01)
    assert design_ratios(ROUND_FIGURES).motion_comfort > with_four_thirds + 0.1


@pytest.mark.parametrize(
    ("missing", "lost"),
    [
        ("loa_m", {"motion_comfort"}),
        ("lwl_m", {"displacement_length", "motion_comfort", "hull_speed_kn"}),
        ("beam_m", {"capsize_screening", "motion_comfort"}),
        (
            "displacement_kg",
            {
                "displacement_length",
                "sail_area_displacement",
                "ballast_ratio",
                "capsize_screening",
                "motion_comfort",
            },
        ),
        ("ballast_kg", {"ballast_ratio"}),
        ("sail_area_m2", {"sail_area_displacement"}),
    ],
)
def test_missing_input_gives_none_and_leaves_the_others(missing, lost):
    full = design_ratios(ROUND_FIGURES)
    partial = design_ratios(replace(ROUND_FIGURES, **{missing: None}))
    for field in fields(full):
        expected = None if field.name in lost else getattr(full, field.name)
        assert getattr(partial, field.name) == expected


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
@pytest.mark.parametrize("field", ["loa_m", "lwl_m", "beam_m", "displacement_kg", "sail_area_m2"])
def test_impossible_input_is_refused_by_name(field, bad):
    with pytest.raises(ValueError, match=field):
        replace(ROUND_FIGURES, **{field: bad})


def test_ballast_must_be_less_than_displacement_but_may_be_nothing():
    with pytest.raises(ValueError, match="ballast_kg"):
        replace(ROUND_FIGURES, ballast_kg=ROUND_FIGURES.displacement_kg)
    assert design_ratios(replace(ROUND_FIGURES, ballast_kg=0.0)).ballast_ratio == 0.0


@pytest.mark.parametrize(
    ("ratio", "value", "name"),
    [
        ("displacement_length", 99.9, "ultralight"),
        ("displacement_length", 244.0, "moderate"),
        ("displacement_length", 300.0, "heavy"),
        ("sail_area_displacement", 17.09, "cruiser"),
        ("ballast_ratio", 0.40, "usual"),
        # 2.0 or less passes: final report of the joint committee on safety from capsizing, 1985.
        ("capsize_screening", 2.0, "passes the screen"),
        ("capsize_screening", 2.001, "fails the screen"),
        ("motion_comfort", 25.53, "coastal"),
        ("hull_speed_kn", 7.09, "wave-making limit"),
    ],
)
def test_readings(ratio, value, name):
    assert ratios.READINGS[ratio].name(value) == name


def test_every_ratio_has_a_reading_and_a_caution():
    assert set(ratios.READINGS) == {field.name for field in fields(ratios.DesignRatios)}
    for reading in ratios.READINGS.values():
        assert len(reading.names) == len(reading.limits) + 1
        assert list(reading.limits) == sorted(reading.limits)
        assert reading.caution
