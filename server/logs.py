"""Logs without secrets: they are removed from the addresses and messages of every record.

Links to photos, sounds and archives, and those in mails, work without signing in, so people who
read an access log could use them. One factory makes the records of all loggers of a process
(Django's, gunicorn's and Celery's), whatever their formatter and handler.
"""

import json
import logging
import re
import traceback
from datetime import UTC, datetime
from typing import Any

from apps.common.request_ids import current_id

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
    """A record whose message and traceback contain no secret. It has the id of its request."""

    request_id: str

    def getMessage(self) -> str:  # noqa: N802  (the library's name)
        return redacted(super().getMessage())


def make_record(*args: Any, **kwargs: Any) -> Record:
    record = Record(*args, **kwargs)
    record.request_id = current_id() or "-"
    if record.exc_info:
        # Formatters use this text if it is set.
        record.exc_text = redacted("".join(traceback.format_exception(*record.exc_info)).rstrip())
    return record


class JsonLines(logging.Formatter):
    """One JSON object a line. Fields that a library adds to a record are left out: they may hold
    requests, and with them secrets.
    """

    def format(self, record: logging.LogRecord) -> str:
        at = datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds")
        line = {
            "time": at,
            "level": record.levelname,
            "logger": record.name,
            "message": record.getMessage(),
            "request_id": getattr(record, "request_id", "-"),
            "process": record.process,
            "exception": record.exc_text,
            "stack": redacted(record.stack_info) if record.stack_info else None,
        }
        return json.dumps({name: value for name, value in line.items() if value is not None})


def configuration(form: str, level: str, *, quiet: bool) -> dict[str, Any]:
    """Django's LOGGING. form: plain or json. quiet: without Celery's line for each task, of which
    the embedded setup has one every few seconds.
    """
    plain = "{asctime} {levelname} {name} [{request_id}]: {message}"
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "plain": {"format": plain, "style": "{"},
            "json": {"()": "server.logs.JsonLines"},
        },
        "handlers": {"console": {"class": "logging.StreamHandler", "formatter": form}},
        "loggers": {"celery": {"level": "WARNING" if quiet else "INFO"}},
        "root": {"handlers": ["console"], "level": level},
    }


def install() -> None:
    """Make all records of this process without secrets."""
    logging.setLogRecordFactory(make_record)
