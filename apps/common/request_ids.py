"""The id of the request that is being worked on, in this thread or in a worker's task.

A proxy may give it in `X-Request-ID`. It is in the answer, in each line of the log, in the messages
that the request sends to workers, and in the log of the tasks that they set off.
"""

import re
import uuid
from contextvars import ContextVar

HEADER = "X-Request-ID"
# The name in the headers of a message to a worker.
MESSAGE_HEADER = "request_id"
ACCEPTED = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{7,63}")

# It stays until the thread's next request: the web server logs a request after its answer.
_current: ContextVar[str] = ContextVar("request_id", default="")


def current_id() -> str:
    """The id, or an empty text outside of requests and tasks."""
    return _current.get()


def begin(given: str | None) -> str:
    """Take the given id if it is acceptable, or make one; it holds from now on."""
    accepted = given and ACCEPTED.fullmatch(given)
    held = given if given and accepted else str(uuid.uuid4())
    _current.set(held)
    return held
