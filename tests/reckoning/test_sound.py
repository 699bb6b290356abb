"""Taps in a recording: found, measured, compared, or left out if unmeasurable."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.reckoning.sound import FEWEST_TAPS, Rings, compare, measure_taps
from tests.published.test_sound import RATE, recording

CRISP = recording(1500.0, 0.12 / 6.9078, noise_db=-60)


def rings(decays, frequencies=None):
    decays = np.asarray(decays, dtype=float)
    return Rings(
        decays, np.full(len(decays), 1000.0) if frequencies is None else np.array(frequencies)
    )


def test_it_works():
    taps = measure_taps(CRISP, RATE)
    assert len(taps) == 5
    assert np.all(taps.range_db > 50)
    assert not taps.clipped.any()
    np.testing.assert_allclose(taps.peak_db, 20 * np.log10(0.5), atol=0.7)


# --- What is told and what not --------------------------------------------------------------------


@pytest.mark.parametrize(
    "silence", [np.zeros(RATE), np.random.default_rng(1).normal(0, 0.01, 2 * RATE)]
)
def test_no_tap_is_found_where_there_is_none(silence):
    assert len(measure_taps(silence, RATE)) == 0


def test_wind_and_handling_are_no_taps():
    seconds = np.arange(2 * RATE) / RATE
    rumble = 0.4 * np.sin(2 * np.pi * 12 * seconds) * np.sin(2 * np.pi * 1.5 * seconds)
    taps = measure_taps(CRISP[: 2 * RATE] + rumble[: len(CRISP[: 2 * RATE])], RATE)
    np.testing.assert_allclose(taps.decay_s, 0.12, rtol=0.05)


def test_a_tap_in_too_much_noise_has_a_pitch_and_no_decay():
    taps = measure_taps(recording(1500.0, 0.12 / 6.9078, noise_db=-30), RATE)
    assert len(taps) == 5
    assert np.isnan(taps.decay_s).all()
    np.testing.assert_allclose(taps.frequency_hz, 1500.0, rtol=0.02)


def test_a_clipped_blow_has_no_decay():
    """Clipped, a dead tap would seem to ring."""
    heard = np.clip(20 * CRISP, -1.0, 1.0)
    taps = measure_taps(heard, RATE)
    assert taps.clipped.all()
    assert np.isnan(taps.decay_s).all()


def test_the_next_tap_ends_the_ringing():
    """60 dB of these would take longer than there is between two taps."""
    taps = measure_taps(recording(1500.0, 3.0 / 6.9078, apart=0.3), RATE)
    assert np.isnan(taps.decay_s[:-1]).all()


def test_two_quick_blows_are_one():
    heard = recording(1500.0, 0.03 / 6.9078, taps=2, apart=0.06)
    assert len(measure_taps(heard, RATE)) == 1


@pytest.mark.parametrize(
    ("samples", "rate", "told"),
    [
        (np.zeros((RATE, 2)), RATE, "samples: need one channel"),
        (np.zeros(RATE), 8_000, "rate_hz: need"),
        (np.zeros(RATE), 400_000, "rate_hz: need"),
        (np.zeros(100), RATE, "samples: need at least"),
        (np.full(RATE, np.nan), RATE, "samples: must be numbers"),
    ],
)
def test_what_is_no_recording_is_refused(samples, rate, told):
    with pytest.raises(ValueError, match=told):
        measure_taps(samples, rate)


@given(st.floats(0.01, 1.9), st.booleans())
def test_loudness_and_polarity_make_no_difference(gain, flipped):
    louder = (-gain if flipped else gain) * CRISP[:RATE]
    before, after = measure_taps(CRISP[:RATE], RATE), measure_taps(louder, RATE)
    np.testing.assert_allclose(after.decay_s, before.decay_s, rtol=1e-6)
    np.testing.assert_allclose(after.frequency_hz, before.frequency_hz, rtol=1e-6)


@given(st.integers(0, RATE // 2))
def test_when_it_starts_makes_no_difference(later):
    quiet = np.random.default_rng(2).normal(0, 0.0005, later)
    before = measure_taps(CRISP[:RATE], RATE)
    after = measure_taps(np.concatenate([quiet, CRISP[:RATE]]), RATE)
    np.testing.assert_allclose(after.at_s - later / RATE, before.at_s, atol=2 / RATE)
    np.testing.assert_allclose(after.decay_s, before.decay_s, rtol=0.01)


@given(st.integers(0, 2**32 - 1), st.integers(1600, 20_000))
def test_whatever_is_recorded_is_measured(seed, length):
    """Noise of any shape: nothing fails, and the figures are possible ones."""
    rng = np.random.default_rng(seed)
    heard = rng.standard_t(2, length) * rng.choice([1e-9, 1e-3, 0.3], length)
    taps = measure_taps(heard, 16_000)
    told = taps.decay_s[~np.isnan(taps.decay_s)]
    assert np.all(told > 0)
    assert np.all((taps.frequency_hz > 70) & (taps.frequency_hz < 8_000))
    assert np.all(np.diff(taps.at_s) > 0.09)


# --- Beside reference taps ------------------------------------------------------------------------


def test_alike_is_not_dull():
    same = rings([0.10, 0.11, 0.12], [1000.0, 1100.0, 1050.0])
    found = compare(same, same)
    assert (found.decay_ratio, found.frequency_ratio, found.dull_share) == (1.0, 1.0, 0.0)


@pytest.mark.parametrize(
    ("decays", "frequencies", "share"),
    [
        ([0.04, 0.04, 0.10, 0.10], [1000.0] * 4, 0.5),  # gone sooner
        ([0.10] * 4, [600.0, 1000.0, 1000.0, 1000.0], 0.25),  # lower: hollow below
        ([0.30] * 4, [2000.0] * 4, 0.0),  # crisper than the reference
        ([0.08] * 4, [900.0] * 4, 0.0),  # a little less is nothing
    ],
)
def test_dull_is_clearly_sooner_gone_or_lower(decays, frequencies, share):
    reference = rings([0.10, 0.10, 0.10])
    assert compare(rings(decays, frequencies), reference).dull_share == share


def test_a_reference_that_varies_finds_less():
    steady, varied = rings([0.10] * 5), rings([0.03, 0.05, 0.10, 0.20, 0.33])
    taps = rings([0.04] * 3)
    assert compare(taps, steady).dull_share == 1.0
    assert compare(taps, varied).dull_share == 0.0


def test_too_few_taps_say_nothing():
    few, enough = rings([0.1] * (FEWEST_TAPS - 1)), rings([0.1] * FEWEST_TAPS)
    assert compare(few, enough) is None
    assert compare(enough, few) is None
    assert compare(enough, enough) is not None


@given(
    st.lists(st.floats(0.005, 1.0), min_size=3, max_size=20),
    st.lists(st.floats(0.005, 1.0), min_size=3, max_size=20),
    st.floats(1.0, 5.0),
)
def test_crisper_taps_are_never_more_dull(taps, reference, factor):
    worse = compare(rings(taps), rings(reference))
    better = compare(rings(np.array(taps) * factor), rings(reference))
    assert better.dull_share <= worse.dull_share
    assert 0.0 <= worse.dull_share <= 1.0


@pytest.mark.parametrize("bad", [0.0, -0.1, np.nan, np.inf])
def test_a_ring_is_positive(bad):
    with pytest.raises(ValueError, match="decay_s: must be positive"):
        rings([0.1, bad])
