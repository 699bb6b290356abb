"""Recognises file formats by their first bytes, and names reasons why a file is unreadable."""

from dataclasses import dataclass
from typing import IO

# "ftyp" brands of still pictures in HEIF with HEVC (ISO/IEC 23008-12 annex B), and its bases.
HEIC_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}
SNIFFED = 16  # bytes


@dataclass(eq=False)
class Unreadable(Exception):
    """The file cannot be used; `fault` is one of `Media.Fault`."""

    fault: str


def format_of(file: IO[bytes]) -> str:
    """JPEG, PNG, WEBP, HEIF, WAV, FLAC or PDF by its first bytes; empty for anything else."""
    file.seek(0)
    start = file.read(SNIFFED)
    file.seek(0)
    if start.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if start.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if start.startswith(b"%PDF-"):
        return "PDF"
    if start.startswith(b"fLaC"):
        return "FLAC"
    if start.startswith(b"RIFF"):
        return {b"WEBP": "WEBP", b"WAVE": "WAV"}.get(start[8:12], "")
    if start[4:8] == b"ftyp" and start[8:12] in HEIC_BRANDS:
        return "HEIF"
    return ""
