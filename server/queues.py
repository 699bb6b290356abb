"""The queues of messages to workers: which task goes to which, and how many wait."""

from typing import Any

# Tasks that are not named here go to the queue of results.
ROUTES = {
    # Receivers of webhooks and mail servers may be slow, so tasks that wait for them have their own
    # queue.
    "apps.events.tasks.deliver": {"queue": "sending"},
    "apps.events.tasks.sweep_deliveries": {"queue": "sending"},
    "apps.notifications.tasks.send_digests": {"queue": "sending"},
    # So have tasks that take up to a minute: a board must not wait for a trip.
    "apps.planning.tasks.plan_trip": {"queue": "planning"},
    "apps.appraisal.tasks.pool_club": {"queue": "planning"},
    "apps.outcomes.tasks.refresh_club": {"queue": "planning"},
}


def length(queue: str) -> int:
    """Messages that no worker has taken yet. Raises what the broker's library raises."""
    from server.celery import app  # it needs the settings, which need this file

    connections: Any = app.pool  # the stubs take them for producers
    with connections.acquire(block=True, timeout=2) as connection:
        try:
            waiting = connection.default_channel.queue_declare(queue, passive=True)
        except connection.channel_errors:
            return 0  # without messages there is no queue
        return int(waiting.message_count)
