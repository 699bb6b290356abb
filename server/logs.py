"""Logs that open nothing: what is a key in an address or in a message is left out of every record.

Links to photos, sounds and archives, and those in mails, open without signing in, so whoever reads
an access log could use them. Records are made in one place for all loggers of a process, Django's,
gunicorn's and Celery's, whatever formatter and handler they come to.
"""

import logging
import re
import traceback
from typing import Any

LEFT_OUT = "[left out]"
# Whatever follows the question mark of an address, up to the end of the word.
QUERY = re.compile(r"(?<=[^\s?])\?(\S+)")
CLOSING = "\"')]}>.,;"
# A part of a path that is signed: what it says, a colon, and the signature.
SIGNED = re.compile(r"(?<=/)[^\s/?\"']*(?::|%3[Aa])[\w-]{20,}")
# A token, a program's or a webhook's secret (apps/accounts/secrets.py, webhooks/signing.py).
SECRET = re.compile(r"\b(hs[a-z]|whsec)_[\w+/=-]{20,}")


def redacted(text: str) -> str:
    """The same without keys: every query string, signed parts of paths, and secrets."""
    text = SIGNED.sub(LEFT_OUT, QUERY.sub(_without_query, text))
    return SECRET.sub(rf"\1_{LEFT_OUT}", text)


def _without_query(found: re.Match[str]) -> str:
    query = found[1].rstrip(CLOSING)
    return f"?{LEFT_OUT}{found[1][len(query) :]}" if query else found[0]


class Record(logging.LogRecord):
    """A record whose message and traceback hold no key."""

    def getMessage(self) -> str:  # noqa: N802  (the library's name)
        return redacted(super().getMessage())


def make_record(*args: Any, **kwargs: Any) -> Record:
    record = Record(*args, **kwargs)
    if record.exc_info:
        # Formatters take the text that is there already.
        record.exc_text = redacted("".join(traceback.format_exception(*record.exc_info)).rstrip())
    return record


def install() -> None:
    """For this process, whatever logs in it."""
    logging.setLogRecordFactory(make_record)
