"""Tap tests from a recording: how long each tap rings and at which pitch, against reference taps.

A light tap makes a panel ring. Where the skin has come off its core or the core has decayed, the
blow is softer, and the note is lower and shorter (Cawley & Adams, 1988, J. Sound and Vibration 122,
299-316). The sound also depends on coin, hand, phone and panel. So a figure means something only
beside taps on a sound place of the same boat, and only that somebody should look closer.
**Decay time** is T60, the time in which the level falls by 60 dB, from the line through the
backward-integrated squared signal (Schroeder, 1965, J. Acoust. Soc. Am. 37, 409-412) between -5
and -25 dB, where ISO 3382-1:2009 evaluates its T20. A signal A exp(-t/tau) sin(2 pi f t) has
T60 = 3 ln(10) tau; its loss factor is 2.2 / (f T60).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import scipy  # its parts are loaded on first use: half a second saved at each start

from apps.reckoning.arrays import Bools, Floats, Ints

LOWEST_RATE_HZ: Final = 16_000
HIGHEST_RATE_HZ: Final = 192_000
SHORTEST_S: Final = 0.1

# Below are wind and handling noise; above, no panel rings. Own choice, no source.
LOWEST_HZ: Final = 80.0
HIGHEST_HZ: Final = 10_000.0

# A tap: this far above the noise, at most this far below the loudest, this far apart.
# Own choices, no source; people tap two to four times a second.
OVER_NOISE_DB: Final = 20.0
UNDER_LOUDEST_DB: Final = 25.0
APART_S: Final = 0.1
LONGEST_RING_S: Final = 1.0
BEFORE_NEXT_S: Final = 0.03  # the filter rings this long before the next blow
FRAME_S: Final = 0.001
SMOOTHING_S: Final = 0.002
NOISE_FRAME_S: Final = 0.02
FLOOR: Final = 1e-12  # power below the last bit of 16 that a recording holds

# The evaluation range of T20; the noise must be 10 dB below its end (ISO 3382-1).
FROM_DB, TO_DB = -5.0, -25.0
RANGE_NEEDED_DB: Final = 35.0
# This many samples at full scale are a clipped blow, whose ringing seems too long.
FULL_SCALE: Final = 0.999
CLIPPED_SAMPLES: Final = 4

# A tap is dull below these shares of the reference's median, if it is also this many of the
# reference's own deviations below it. Own choices, no source.
DULL_DECAY: Final = 0.6
DULL_FREQUENCY: Final = 0.75
DEVIATIONS: Final = 2.0
FEWEST_TAPS: Final = 3
NORMAL_MAD: Final = 1.4826  # median absolute deviation to standard deviation of a normal


@dataclass(frozen=True, slots=True, eq=False)
class Taps:
    """The taps of one recording, in order; all (N,).

    at_s: time of the blow's peak. decay_s: T60, NaN if it cannot be measured. frequency_hz: peak
    of the spectrum. peak_db: relative to full scale. range_db: of the blow over the noise.
    clipped: the blow exceeded full scale, so its decay is NaN.
    """

    at_s: Floats
    decay_s: Floats
    frequency_hz: Floats
    peak_db: Floats
    range_db: Floats
    clipped: Bools

    def __len__(self) -> int:
        return len(self.at_s)


@dataclass(frozen=True, slots=True, eq=False)
class Rings:
    """How taps rang, wherever they were recorded: both (N,), positive and finite.

    Raises ValueError otherwise.
    """

    decay_s: Floats
    frequency_hz: Floats

    def __post_init__(self) -> None:
        if self.decay_s.shape != self.frequency_hz.shape or self.decay_s.ndim != 1:
            raise ValueError("frequency_hz: need one value for each decay_s")
        for name in self.__slots__:
            values = getattr(self, name)
            if not np.all(np.isfinite(values) & (values > 0)):
                raise ValueError(f"{name}: must be positive")

    def __len__(self) -> int:
        return len(self.decay_s)


@dataclass(frozen=True, slots=True, eq=False)
class TapComparison:
    """Taps beside the reference taps of the same boat.

    decay_ratio, frequency_ratio: of the medians, 1 if they are equal. dull: (N,) whether each
    tap decays clearly sooner or sounds clearly lower than the reference. dull_share: of the taps.
    """

    decay_ratio: float
    frequency_ratio: float
    dull: Bools
    dull_share: float


def measure_taps(samples: Floats, rate_hz: float) -> Taps:
    """Find the taps in a recording and measure each.

    samples: (n,) with full scale at 1. On damped sinusoids of 200 Hz to 4 kHz that ring for five
    cycles or more (f T60), with noise 50 dB below the blow, decay is within 5% and frequency within
    2%. A second blow within a tenth of a second counts as part of the first.

    Raises ValueError for another shape, rate or length, and for values that are not finite.
    """
    if samples.ndim != 1:
        raise ValueError("samples: need one channel")
    if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
        raise ValueError(f"rate_hz: need {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ}")
    if len(samples) < SHORTEST_S * rate_hz:
        raise ValueError(f"samples: need at least {SHORTEST_S} s")
    if not np.all(np.isfinite(samples)):
        raise ValueError("samples: must be numbers")
    heard = _without_rumble(samples, rate_hz)
    noise = _noise_power(heard, rate_hz)
    power = scipy.ndimage.uniform_filter1d(heard**2, max(1, round(SMOOTHING_S * rate_hz)))
    found = []
    for start, end in _tap_spans(heard, power, noise, rate_hz):
        ring = heard[start : start + _ringing(power[start:end], noise)]
        range_db = float(10 * np.log10(power[start] / noise))
        clipped = bool(np.sum(np.abs(samples[start:end]) >= FULL_SCALE) >= CLIPPED_SAMPLES)
        measurable = range_db >= RANGE_NEEDED_DB and not clipped
        decay_s = decay_time(ring, rate_hz, noise) if measurable else np.nan
        peak_db = float(20 * np.log10(np.abs(ring[0])))
        found.append(
            (
                start / rate_hz,
                decay_s,
                dominant_frequency(ring, rate_hz),
                peak_db,
                range_db,
                clipped,
            )
        )
    columns = np.array(found, dtype=np.float64).reshape(-1, 6).T
    return Taps(
        at_s=columns[0],
        decay_s=columns[1],
        frequency_hz=columns[2],
        peak_db=columns[3],
        range_db=columns[4],
        clipped=columns[5].astype(np.bool_),
    )


def decay_time(ring: Floats, rate_hz: float, noise: float = 0.0) -> float:
    """T60 in seconds of one ringing from its peak on, (n,); NaN if it does not fall far enough.

    noise: its mean power, which is subtracted. The ringing beyond the end is added to the
    integral, because a truncated signal seems to decay sooner than it does.
    """
    power = ring**2 - noise
    at_end = max(float(np.mean(power[-max(1, round(SMOOTHING_S * rate_hz)) :])), 0.0)
    left = np.cumsum(power[::-1])[::-1]
    seconds = np.nan
    beyond = 0.0
    for _ in range(20):
        with np.errstate(divide="ignore", invalid="ignore"):
            level = 10 * np.log10((left + beyond) / (left[0] + beyond))
        inside = np.flatnonzero((level <= FROM_DB) & (level >= TO_DB))
        if len(inside) < 3:
            return float("nan")
        slope = np.polyfit(inside / rate_hz, level[inside], 1)[0]
        before, seconds = seconds, -60.0 / slope
        if seconds <= 0 or abs(seconds - before) < 1e-4 * seconds:
            break
        beyond = at_end * rate_hz * seconds / (6 * np.log(10))  # of an exponential tail
    fell_far_enough = bool(np.any(level < TO_DB))
    return float(seconds) if seconds > 0 and fell_far_enough else float("nan")


def dominant_frequency(ring: Floats, rate_hz: float) -> float:
    """Frequency in Hz of the spectrum's peak in one ringing, (n,).

    Interpolated between the bins of the transform by a parabola through the logarithms (Smith &
    Serra, 1987, ICMC).
    """
    size = 1 << int(np.ceil(np.log2(max(len(ring), rate_hz))))  # bins closer than 1 Hz
    magnitude = np.abs(np.fft.rfft(ring, size))
    bin_hz = rate_hz / size
    lowest = int(np.ceil(LOWEST_HZ / bin_hz))
    highest = int(min(HIGHEST_HZ, 0.45 * rate_hz) / bin_hz)
    k = lowest + int(np.argmax(magnitude[lowest:highest]))
    a, b, c = np.log(np.maximum(magnitude[k - 1 : k + 2], np.finfo(float).tiny))
    bend = a - 2 * b + c
    aside = 0.5 * (a - c) / bend if bend < 0 else 0.0
    return float((k + np.clip(aside, -0.5, 0.5)) * bin_hz)  # at an end there may be no peak


def compare(taps: Rings, reference: Rings) -> TapComparison | None:
    """Taps beside reference taps; None with fewer than three of either."""
    if min(len(taps), len(reference)) < FEWEST_TAPS:
        return None
    dull = _clearly_below(taps.decay_s, reference.decay_s, DULL_DECAY) | _clearly_below(
        taps.frequency_hz, reference.frequency_hz, DULL_FREQUENCY
    )
    return TapComparison(
        decay_ratio=float(np.median(taps.decay_s) / np.median(reference.decay_s)),
        frequency_ratio=float(np.median(taps.frequency_hz) / np.median(reference.frequency_hz)),
        dull=dull,
        dull_share=float(np.mean(dull)),
    )


def _clearly_below(values: Floats, reference: Floats, share: float) -> Bools:
    logs = np.log(reference)
    middle = np.median(logs)
    deviation = NORMAL_MAD * np.median(np.abs(logs - middle))
    below = middle - np.log(values)
    return np.asarray(below > max(-np.log(share), DEVIATIONS * deviation), dtype=np.bool_)


def _without_rumble(samples: Floats, rate_hz: float) -> Floats:
    """Filtered backwards in time, so that the filter's own ringing comes before each blow.

    Jacobsen & Rindel (1987), J. Sound and Vibration 117, 187-190.
    """
    highpass = scipy.signal.butter(4, LOWEST_HZ, "highpass", fs=rate_hz, output="sos")
    return np.asarray(scipy.signal.sosfilt(highpass, (samples - np.mean(samples))[::-1])[::-1])


def _noise_power(heard: Floats, rate_hz: float) -> float:
    """Noise power of the quietest tenth of the recording."""
    size = round(NOISE_FRAME_S * rate_hz)
    frames = heard[: len(heard) // size * size].reshape(-1, size)
    return max(float(np.quantile(np.mean(frames**2, axis=1), 0.1)), FLOOR)


def _tap_spans(
    heard: Floats, power: Floats, noise: float, rate_hz: float
) -> Iterator[tuple[int, int]]:
    """From where each blow peaks to just before the next one, as indices of samples."""
    hop = max(1, round(FRAME_S * rate_hz))
    level = 10 * np.log10(np.maximum(power[::hop], FLOOR))
    peaks: Ints
    peaks, _ = scipy.signal.find_peaks(
        np.concatenate([[level.min()], level, [level.min()]]),  # a blow may come first or last
        height=max(10 * np.log10(noise) + OVER_NOISE_DB, level.max() - UNDER_LOUDEST_DB),
        distance=max(1, round(APART_S * rate_hz / hop)),
        prominence=OVER_NOISE_DB / 2,
    )
    near = 3 * hop
    starts = []
    for peak in (peaks - 1) * hop:
        first = max(0, peak - near)
        starts.append(first + int(np.argmax(np.abs(heard[first : peak + near + 1]))))
    longest = round(LONGEST_RING_S * rate_hz)
    before_next = round(BEFORE_NEXT_S * rate_hz)
    for start, following in pairwise([*starts, len(heard) + before_next]):
        yield start, max(start + 1, min(following - before_next, start + longest))


def _ringing(power: Floats, noise: float) -> int:
    """Number of samples until the ringing falls to twice the noise."""
    down = np.flatnonzero(power < 2 * noise)
    return max(int(down[0]), 8) if len(down) else len(power)
