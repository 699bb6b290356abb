"""Logs without secrets: they are removed from the addresses and messages of every record.

Links to photos, sounds and archives, and those in mails, work without signing in, so people who
read an access log could use them. One factory makes the records of all loggers of a process
(Django's, gunicorn's and Celery's), whatever their formatter and handler.
"""

import logging
import re
import traceback
from typing import Any

LEFT_OUT = "[left out]"
# What follows the question mark of an address, up to the end of the word.
QUERY = re.compile(r"(?<=[^\s?])\?(\S+)")
CLOSING = "\"')]}>.,;"
# A signed part of a path: its content, a colon, and the signature.
SIGNED = re.compile(r"(?<=/)[^\s/?\"']*(?::|%3[Aa])[\w-]{20,}")
# A token, a program's or a webhook's secret (apps/accounts/secrets.py, webhooks/signing.py).
SECRET = re.compile(r"\b(hs[a-z]|whsec)_[\w+/=-]{20,}")


def redacted(text: str) -> str:
    """The text without query strings, signed parts of paths, and secrets."""
    text = SIGNED.sub(LEFT_OUT, QUERY.sub(_without_query, text))
    return SECRET.sub(rf"\1_{LEFT_OUT}", text)


def _without_query(found: re.Match[str]) -> str:
    query = found[1].rstrip(CLOSING)
    return f"?{LEFT_OUT}{found[1][len(query) :]}" if query else found[0]


class Record(logging.LogRecord):
    """A record whose message and traceback contain no secret."""

    def getMessage(self) -> str:  # noqa: N802  (the library's name)
        return redacted(super().getMessage())


def make_record(*args: Any, **kwargs: Any) -> Record:
    record = Record(*args, **kwargs)
    if record.exc_info:
        # Formatters use this text if it is set.
        record.exc_text = redacted("".join(traceback.format_exception(*record.exc_info)).rstrip())
    return record


def install() -> None:
    """Make all records of this process without secrets."""
    logging.setLogRecordFactory(make_record)
