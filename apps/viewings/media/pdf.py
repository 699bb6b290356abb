"""Checks a PDF only from outside. It is kept as it came and never opened here: what it holds may
run programs in a careless reader, and its own data (author, times) remain.
"""

from typing import IO

from apps.viewings.media.models import Media
from apps.viewings.media.reading import Unreadable, format_of

# ISO 32000-1, 7.5.5: the last line of the file. Readers look for it in the last kilobyte (common
# practice).
END = b"%%EOF"
TAIL = 1024  # bytes


def pdf_read(file: IO[bytes]) -> bytes:
    """The whole file. Raises `Unreadable` if it is no PDF, or only the beginning of one."""
    if format_of(file) != "PDF":
        raise Unreadable(Media.Fault.DAMAGED)
    content = file.read()
    if END not in content[-TAIL:]:
        raise Unreadable(Media.Fault.DAMAGED)
    return content
