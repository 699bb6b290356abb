"""Measured values: conversion of units, and levels by a scale."""

import pytest

from apps.catalogue.scales import ScaleEntry
from apps.viewings.measures import CannotRead, Measured, converted, level_on


def scale(unit="mm", *, rising=True, breaks=(1, 2, 3, 5), highest=100) -> ScaleEntry:
    return ScaleEntry(
        code="x",
        title="X",
        unit=unit,
        rising=rising,
        range=(0, highest),
        breaks=breaks,
        grades=(),
        source="project's own estimate",
    )


# The inch is 25.4 mm exactly and the foot 12 inches (international agreement of 1959).
@pytest.mark.parametrize(
    ("value", "unit", "wanted", "expected"),
    [
        (1, "inch", "mm", 25.4),
        (1, "ft", "mm", 304.8),
        (2.5, "cm", "mm", 25),
        (12_600, "mV", "V", 12.6),
        (6, "months", "years", 0.5),
        (3, "rating", "rating", 3),
        (50, "%", "%", 50),
    ],
)
def test_it_works(value, unit, wanted, expected):
    assert converted(Measured(value, unit), wanted) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("unit", "wanted", "code"),
    [
        ("kg", "mm", "wrong_unit"),
        ("furlongish", "mm", "unknown_unit"),
        ("mm", "rating", "unknown_unit"),
        ("mm**999999999", "mm", "unknown_unit"),
        ("2 mm", "mm", "unknown_unit"),
        ("__import__", "mm", "unknown_unit"),
        (" ", "mm", "wrong_unit"),
        ("mm per", "mm", "unknown_unit"),
        ("degC", "mm", "wrong_unit"),
        ("nan", "mm", "unknown_unit"),
        ("not mm", "mm", "unknown_unit"),
    ],
)
def test_what_cannot_be_read(unit, wanted, code):
    with pytest.raises(CannotRead) as refused:
        converted(Measured(1, unit), wanted)
    assert (refused.value.field, refused.value.code) == ("unit", code)


def test_a_falling_scale():
    volts = scale("V", rising=False, breaks=(12.6, 12.4, 12.2, 10.6))
    read = [level_on(volts, Measured(value, "V")) for value in (12.7, 12.6, 12.5, 12.3, 11, 10)]
    assert read == [0, 0, 1, 2, 3, 4]


def test_outside_of_the_scale():
    with pytest.raises(CannotRead) as refused:
        level_on(scale(), Measured(11, "cm"))
    assert (refused.value.field, refused.value.code) == ("value", "out_of_range")
