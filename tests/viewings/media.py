"""Generated pictures and recordings, and helpers to send them."""

import io
import struct
from typing import Any

import numpy as np
import soundfile
from matplotlib.figure import Figure
from PIL import ExifTags, Image

from apps.viewings.media.preparing import (
    gate_document_prepare,
    photo_prepare,
    seller_photo_prepare,
    sound_prepare,
)
from tests.conftest import Speaker
from tests.published.test_sound import recording

PLACE = "Hidden Cove"  # a word that no answer or file may contain
DEVICE = "Tell-tale Phone 9"


def picture(form: str = "JPEG", size: tuple[int, int] = (160, 120), **options: Any) -> bytes:
    """A picture, red at the top and blue at the bottom."""
    red, blue = Image.new("RGB", size, (220, 30, 30)), Image.new("RGB", size, (30, 30, 220))
    red.paste(blue, (0, size[1] // 2))
    file = io.BytesIO()
    red.save(file, form, **options)
    return file.getvalue()


def paper(**metadata: str) -> bytes:
    """A PDF as a general-purpose library writes it."""
    figure = Figure(figsize=(2, 3))
    figure.text(0.1, 0.5, "Extract of the register")
    file = io.BytesIO()
    figure.savefig(file, format="pdf", metadata=metadata)
    return file.getvalue()


def exif(**changed: Any) -> Image.Exif:
    """A phone's data in a picture: author, time and place."""
    tags = Image.Exif()
    tags[ExifTags.Base.Make] = DEVICE
    tags[ExifTags.Base.ImageDescription] = PLACE
    tags[ExifTags.Base.Orientation] = changed.pop("orientation", 1)
    tags.get_ifd(ExifTags.IFD.Exif).update(
        {
            ExifTags.Base.DateTimeOriginal: "2025:03:01 10:20:30",
            ExifTags.Base.OffsetTimeOriginal: "+02:00",
            ExifTags.Base.BodySerialNumber: DEVICE,
            **changed,
        }
    )
    gps = tags.get_ifd(ExifTags.IFD.GPSInfo)
    gps[ExifTags.GPS.GPSLatitudeRef], gps[ExifTags.GPS.GPSLatitude] = "N", (54.0, 30.0, 12.5)
    gps[ExifTags.GPS.GPSLongitudeRef], gps[ExifTags.GPS.GPSLongitude] = "E", (10.0, 15.0, 33.0)
    gps[ExifTags.GPS.GPSProcessingMethod] = PLACE
    return tags


def taps(
    decay_s: float = 0.12, frequency_hz: float = 1400.0, *, form: str = "WAV", **options: Any
) -> bytes:
    """A recording of five taps or as many as `taps` says."""
    heard = recording(frequency_hz, decay_s / 6.9078, noise_db=-60, **options)
    return sound_file(heard, 44_100, form=form)


def sound_file(heard: np.ndarray, rate_hz: int, *, form: str = "WAV") -> bytes:
    file = io.BytesIO()
    soundfile.write(file, heard, rate_hz, format=form, subtype="PCM_16")
    return file.getvalue()


def with_device(wav: bytes) -> bytes:
    """The recording with a recorder's additions to a WAV: a description and a LIST chunk."""
    bext = PLACE.encode().ljust(602, b"\0")
    said = f"{DEVICE}\0".encode()
    said += b"\0" * (len(said) % 2)
    listed = b"INFOISFT" + struct.pack("<I", len(said)) + said
    chunks = b"bext" + struct.pack("<I", len(bext)) + bext
    chunks += b"LIST" + struct.pack("<I", len(listed)) + listed
    body = wav[8:] + chunks
    return b"RIFF" + struct.pack("<I", len(body)) + body


def sent_photo(who: Speaker, path: str, form: dict[str, Any] | None = None) -> dict:
    """A sent photo after its job, as its sender reads it."""
    made = who.send_form(path, {"file": picture(), **(form or {})})
    assert made.status_code == 201, made.content
    photo_prepare(photo_id=made.json()["id"])
    return who.get(f"/photos/{made.json()['id']}").json()


def sent_seller_photo(who: Speaker, candidate_id: Any, form: dict[str, Any] | None = None) -> dict:
    sent = {"file": picture(), "source": "advert", **(form or {})}
    made = who.send_form(f"/candidates/{candidate_id}/seller-photos", sent)
    assert made.status_code == 201, made.content
    seller_photo_prepare(photo_id=made.json()["id"])
    return who.get(f"/seller-photos/{made.json()['id']}").json()


def sent_gate_document(who: Speaker, candidate_id: Any, form: dict[str, Any] | None = None) -> dict:
    sent = {"file": picture(), "gate": "debts", **(form or {})}
    made = who.send_form(f"/candidates/{candidate_id}/gate-documents", sent)
    assert made.status_code == 201, made.content
    gate_document_prepare(document_id=made.json()["id"])
    return who.get(f"/gate-documents/{made.json()['id']}").json()


def sent_sound(who: Speaker, path: str, form: dict[str, Any] | None = None) -> dict:
    made = who.send_form(path, {"file": taps(), "checkpoint": "joint", **(form or {})})
    assert made.status_code == 201, made.content
    sound_prepare(sound_id=made.json()["id"])
    return who.get(f"/sounds/{made.json()['id']}").json()
