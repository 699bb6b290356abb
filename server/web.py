"""gunicorn's configuration: `gunicorn server.wsgi --config python:server.web`."""

import os
import tempfile
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "server.settings")

from django.conf import settings

from server import traces

bind = "0.0.0.0:8000"  # of the container; the compose file says who can reach it
workers = 2
worker_class = "gthread"
# Few of these threads work at a time (apps/common/processes/turns.py); the others wait for results.
threads = settings.REQUESTS_AT_ONCE + settings.MOST_WAITING
control_socket_disable = True
graceful_timeout = 20
accesslog = "-"
# Its own lines in the same form as all others, by the root logger.
logconfig_dict = {
    **settings.LOGGING,
    "loggers": {
        name: {"level": "INFO", "handlers": [], "propagate": True}
        for name in ("gunicorn.error", "gunicorn.access")
    },
}


def post_fork(server: Any, worker: Any) -> None:
    traces.begin()


if settings.METRICS_TOKEN:
    # Before the processes begin: they add their figures up in files of this folder.
    os.environ["PROMETHEUS_MULTIPROC_DIR"] = tempfile.mkdtemp(prefix="hardstand-metrics-")

    def child_exit(server: Any, worker: Any) -> None:
        from prometheus_client import multiprocess

        untyped: Any = multiprocess
        untyped.mark_process_dead(worker.pid)
