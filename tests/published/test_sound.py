"""Tap sounds against the definitions of decay: signals whose answer is known in closed form.

- ISO 3382-1:2009 (from memory): reverberation time T is the time for a fall of 60 dB; T20 is
  extrapolated from the line between -5 and -25 dB. For A exp(-t / tau) sin(2 pi f t) the level
  falls 20 log10(e) t / tau dB, so T = 3 ln(10) tau = 6.908 tau.
- Cremer, Heckl & Petersson, Structure-Borne Sound (from memory): loss factor of a ringing plate
  eta = 2.2 / (f T); the factor is ln(10^6) / (2 pi) = 2.199.
- Logarithmic decrement, any textbook on vibration (from memory): delta = ln(x_n / x_(n+1)), the
  damping ratio zeta = delta / sqrt(4 pi^2 + delta^2), and tau = 1 / (zeta omega_0).
- Schroeder (1965): the integral of the squared signal from t to the end, not the signal, gives
  the decay; of an exponential it is exponential with the same constant.
"""

import io

import numpy as np
import pytest
import soundfile
from scipy.io import wavfile

from apps.reckoning.sound import decay_time, dominant_frequency, measure_taps

RATE = 44_100


def recording(frequency, tau, *, rate=RATE, taps=5, apart=0.4, noise_db=None, loudest=0.5, seed=4):
    """Damped sinusoids one after another, in noise so far below the blows."""
    seconds = np.arange(round((taps * apart + 0.3) * rate)) / rate
    heard = np.zeros_like(seconds)
    for n in range(taps):
        since = seconds - 0.15 - n * apart
        blow = np.exp(-since.clip(0) / tau) * np.sin(2 * np.pi * frequency * since)
        heard += loudest * np.where(since >= 0, blow, 0.0)
    if noise_db is not None:
        sd = loudest * 10 ** (noise_db / 20)
        heard += np.random.default_rng(seed).normal(0.0, sd, len(heard))
    return heard


@pytest.mark.parametrize("noise_db", [None, -50])
@pytest.mark.parametrize(
    ("frequency", "decay"), [(200, 0.03), (500, 0.01), (800, 0.05), (1500, 0.2), (4000, 0.35)]
)
def test_decay_and_pitch_of_damped_sinusoids(frequency, decay, noise_db):
    tau = decay / (3 * np.log(10))
    taps = measure_taps(recording(frequency, tau, noise_db=noise_db), RATE)
    assert len(taps) == 5
    np.testing.assert_allclose(taps.decay_s, decay, rtol=0.03 if noise_db is None else 0.05)
    np.testing.assert_allclose(taps.frequency_hz, frequency, rtol=0.02)
    np.testing.assert_allclose(taps.at_s, 0.15 + 0.4 * np.arange(5), atol=0.003)


@pytest.mark.parametrize("eta", [0.005, 0.02, 0.06])
def test_decay_of_a_plate_with_a_given_loss_factor(eta):
    frequency = 1200.0
    tau = 1 / (np.pi * eta * frequency)  # half the bandwidth eta f of the resonance, as a rate
    taps = measure_taps(recording(frequency, tau), RATE)
    np.testing.assert_allclose(2.2 / (frequency * taps.decay_s), eta, rtol=0.03)


@pytest.mark.parametrize("ratio", [1.05, 1.2])
def test_decay_by_the_logarithmic_decrement(ratio):
    """`ratio` is how much smaller each swing is than the one before."""
    frequency = 900.0  # as heard, which is the damped one
    delta = np.log(ratio)
    zeta = delta / np.sqrt(4 * np.pi**2 + delta**2)
    omega_0 = 2 * np.pi * frequency / np.sqrt(1 - zeta**2)
    taps = measure_taps(recording(frequency, 1 / (zeta * omega_0)), RATE)
    np.testing.assert_allclose(taps.decay_s, 3 * np.log(10) / (zeta * omega_0), rtol=0.03)


def test_an_exponential_that_is_cut_off_keeps_its_decay():
    """30 dB of it are enough: what rings on beyond the end is put back."""
    decay, rate = 0.6, 48_000
    seconds = np.arange(round(0.3 * rate)) / rate
    cut_off = np.exp(-3 * np.log(10) * seconds / decay)
    assert decay_time(cut_off, rate) == pytest.approx(decay, rel=0.01)


def test_the_pitch_between_two_bins():
    rate = 44_100
    seconds = np.arange(rate // 5) / rate
    for frequency in (439.3, 440.0, 441.7):
        tone = np.hanning(len(seconds)) * np.sin(2 * np.pi * frequency * seconds)
        assert dominant_frequency(tone, rate) == pytest.approx(frequency, abs=0.05)


@pytest.mark.parametrize("rate", [16_000, 48_000, 96_000])
def test_the_rate_of_the_recording_makes_no_difference(rate):
    decay, frequency = 0.12, 1100.0
    taps = measure_taps(recording(frequency, decay / 6.9078, rate=rate), rate)
    np.testing.assert_allclose(taps.decay_s, decay, rtol=0.03)
    np.testing.assert_allclose(taps.frequency_hz, frequency, rtol=0.02)


@pytest.mark.parametrize("form", ["WAV", "FLAC"])
def test_a_file_of_16_bits_gives_the_same(form):
    """Read by the library that the service reads with, and, for WAV, by another one."""
    frequency, decay = 1300.0, 0.09
    heard = recording(frequency, decay / 6.9078, noise_db=-60)
    file = io.BytesIO()
    soundfile.write(file, heard, RATE, format=form, subtype="PCM_16")
    file.seek(0)
    read, rate = soundfile.read(file)
    if form == "WAV":
        file.seek(0)
        other_rate, integers = wavfile.read(file)
        np.testing.assert_allclose(read, integers / 32768, atol=1e-9)
        assert rate == other_rate
    taps = measure_taps(read, rate)
    np.testing.assert_allclose(taps.decay_s, decay, rtol=0.03)
    np.testing.assert_allclose(taps.frequency_hz, frequency, rtol=0.02)
