"""Telling a worker that there is work, without ever making a request wait for the broker.

A message is only a hint: whatever is to be done is in the database, where a sweep finds it.
"""

import logging
import time

from celery import current_app

log = logging.getLogger(__name__)

# A broker that did not answer is left alone for so long: the sweep sends again what it missed.
LEFT_ALONE_SECONDS = 10.0


class Broker:
    """Remembers, in this process, that the broker did not answer a moment ago."""

    def __init__(self) -> None:
        self._silent_until = 0.0

    def send(self, task: str, *args: str) -> bool:
        """Send one message; False, logged, if the broker is away. Takes a few seconds at most."""
        if time.monotonic() < self._silent_until:
            return False
        try:
            # One try: a request must not wait while the client tries again.
            current_app.send_task(task, args=args, retry=False)
        except Exception:
            self._silent_until = time.monotonic() + LEFT_ALONE_SECONDS
            log.warning("no message sent (%s): the sweep will find it", task, exc_info=True)
            return False
        return True


broker = Broker()
