"""Sends messages to workers without making a request wait for the broker.

A message is only a hint: all work is in the database, where a sweep finds it.
"""

import logging
import time

from celery import current_app

from apps.common.request_ids import MESSAGE_HEADER, current_id

log = logging.getLogger(__name__)

# After a failure the broker is not called for this long; the sweep sends missed messages again.
LEFT_ALONE_SECONDS = 10.0


class Broker:
    """Remembers in this process that the broker has just failed to answer."""

    def __init__(self) -> None:
        self._silent_until = 0.0

    def send(self, task: str, *args: str) -> bool:
        """Send one message; log and return False if the broker is away. Takes seconds at most."""
        if time.monotonic() < self._silent_until:
            return False
        try:
            # One try only: a request must not wait for retries.
            headers = {MESSAGE_HEADER: current_id()}
            current_app.send_task(task, args=args, retry=False, headers=headers)
        except Exception:
            self._silent_until = time.monotonic() + LEFT_ALONE_SECONDS
            log.warning("no message sent (%s): the sweep will find it", task, exc_info=True)
            return False
        return True


broker = Broker()
