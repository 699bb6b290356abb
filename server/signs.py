"""What workers and the scheduler say of themselves: signs of life (`apps.jobs.life`), each from its
own loop, and in the log the id of the request that set a task off.
"""

import time
from socket import gethostname
from typing import Any

from celery import Task, bootsteps
from celery.beat import PersistentScheduler
from celery.signals import task_postrun, task_prerun
from django.conf import settings

from apps.common import request_ids
from apps.jobs.life import BEAT, EVERY_SECONDS, message_taken, sign_of_life, task_ended

_said: dict[str, float] = {}  # when this process last said that a queue's message was taken


class WorkerSigns(bootsteps.StartStopStep):
    """A part of each worker. While the broker is away its loop stands still, and gives no sign."""

    requires = ("celery.worker.components:Timer",)

    def include_if(self, parent: Any) -> bool:
        return not settings.EMBEDDED  # there the threads are watched (server/embedded.py)

    def start(self, parent: Any) -> None:
        self.again = parent.timer.call_repeatedly(EVERY_SECONDS, self.sign, (parent,))

    def stop(self, parent: Any) -> None:
        self.again.cancel()

    def sign(self, worker: Any) -> None:
        for queue in worker.app.amqp.queues.consume_from:
            sign_of_life(queue, gethostname())


class SigningScheduler(PersistentScheduler):
    def tick(self, *args: Any, **kwargs: Any) -> Any:
        sign_of_life(BEAT, gethostname())
        return super().tick(*args, **kwargs)


@task_prerun.connect
def take_request_id(task_id: str, task: Task[Any, Any], **_: Any) -> None:
    """The id of the request that set the task off, or of the task, holds for all that it logs."""
    request_ids.begin(getattr(task.request, request_ids.MESSAGE_HEADER, None) or task_id)


@task_prerun.connect
def say_taken(task: Task[Any, Any], **_: Any) -> None:
    """Say it now and then, not for each of hundreds of tasks."""
    queue = (task.request.delivery_info or {}).get("routing_key", "")
    now = time.monotonic()
    if queue and now - _said.get(queue, -EVERY_SECONDS) >= EVERY_SECONDS:
        _said[queue] = now
        message_taken(queue)


@task_postrun.connect
def say_ended(task: Task[Any, Any], state: str | None = None, **_: Any) -> None:
    if settings.METRICS_TOKEN and state:
        task_ended(task.name, state)
