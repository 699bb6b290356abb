"""Makes a recording that may be played from one that was sent, and measures its taps.

Only the samples are written to the new file, so no place or device remains.
"""

import io
from dataclasses import dataclass
from typing import IO, Any

import numpy as np
import soundfile

from apps.reckoning.sound import HIGHEST_RATE_HZ, LOWEST_RATE_HZ, SHORTEST_S, Taps, measure_taps
from apps.viewings.media.models import Media
from apps.viewings.media.reading import Unreadable

FORMATS = ("WAV", "WAVEX", "FLAC")
LONGEST_S = 30.0
MOST_CHANNELS = 2


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """recording: FLAC, one channel. taps: as `Sound.taps` stores them."""

    recording: bytes
    duration_s: float
    rate_hz: int
    taps: list[dict[str, Any]]


def recording_read(file: IO[bytes]) -> Recording:
    """The recording in a file. Raises `Unreadable`."""
    try:
        with soundfile.SoundFile(file) as opened:
            _check(opened)
            rate_hz = opened.samplerate
            # A file may have more samples than its header says.
            channels = opened.read(frames=round(LONGEST_S * rate_hz), always_2d=True)
    except (soundfile.SoundFileError, ValueError, TypeError) as error:
        raise Unreadable(Media.Fault.DAMAGED) from error
    # The louder channel: in the sum, delays between the microphones would cancel sound.
    samples = channels[:, np.argmax(np.sum(channels**2, axis=0))]
    if len(samples) < SHORTEST_S * rate_hz:
        raise Unreadable(Media.Fault.TOO_SHORT)
    if not np.all(np.isfinite(samples)):
        raise Unreadable(Media.Fault.DAMAGED)
    return Recording(
        recording=_flac(samples, rate_hz),
        duration_s=len(samples) / rate_hz,
        rate_hz=rate_hz,
        taps=taps_serialized(measure_taps(samples, rate_hz)),
    )


def _check(opened: soundfile.SoundFile) -> None:
    if opened.format not in FORMATS:
        raise Unreadable(Media.Fault.DAMAGED)
    if not LOWEST_RATE_HZ <= opened.samplerate <= HIGHEST_RATE_HZ:
        raise Unreadable(Media.Fault.WRONG_RATE)
    if opened.channels > MOST_CHANNELS:
        raise Unreadable(Media.Fault.WRONG_CHANNELS)
    if opened.frames > LONGEST_S * opened.samplerate:
        raise Unreadable(Media.Fault.TOO_LONG)


def taps_serialized(taps: Taps) -> list[dict[str, Any]]:
    """One object per tap, rounded to the measurement's precision; null for unknown values."""
    return [
        {
            "at_s": round(float(taps.at_s[n]), 3),
            "decay_s": None if np.isnan(taps.decay_s[n]) else round(float(taps.decay_s[n]), 4),
            "frequency_hz": round(float(taps.frequency_hz[n]), 1),
            "peak_db": round(float(taps.peak_db[n]), 1),
            "range_db": round(float(taps.range_db[n]), 1),
            "clipped": bool(taps.clipped[n]),
        }
        for n in range(len(taps))
    ]


def _flac(samples: np.ndarray, rate_hz: int) -> bytes:
    written = io.BytesIO()
    soundfile.write(written, samples, rate_hz, format="FLAC", subtype="PCM_24")
    return written.getvalue()
