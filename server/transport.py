"""The broker's transport: a message that nobody can read is logged and dropped.

The library ends the worker instead, so a wrong line on a queue would end one worker after another.
Some of what is wrong is found only after the message counts as taken; it is given up then too.
"""

import logging
from typing import Any

from kombu.exceptions import ContentDisallowed, DecodeError
from kombu.transport import redis

log = logging.getLogger(__name__)

# How the library fails on what is no text, no JSON, no message, or in a form that is not accepted.
UNREADABLE = (ValueError, KeyError, TypeError, AttributeError, ContentDisallowed, DecodeError)


class Channel(redis.Channel):
    def _brpop_read(self, **options: Any) -> Any:
        held = self._held()
        try:
            return super()._brpop_read(**options)  # type: ignore[misc]  # the stubs lack it
        except UNREADABLE:
            log.exception("a message that cannot be read was dropped")
            # Otherwise it counts among those that the worker holds, and the worker takes no more.
            for tag in self._held() - held:
                self.qos.reject(tag)
            return True  # as after any other message

    def _held(self) -> set[str]:
        return set(self.qos._delivered or ())


class Transport(redis.Transport):
    Channel = Channel
