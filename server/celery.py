"""The worker's Celery application, with all schedules."""

import gc
import os
from datetime import timedelta
from importlib import import_module
from typing import Any

from celery import Celery
from celery.schedules import crontab
from celery.signals import celeryd_after_setup, worker_process_init
from django.conf import settings

from server import signs, traces

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "server.settings")
# Celery would run Django's checks and pass over what they find. They load every view and page: 35
# MB that no task needs. `manage.py prepare` runs them.
os.environ.setdefault("CELERY_SKIP_CHECKS", "1")

app = Celery("hardstand")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
app.steps["worker"].add(signs.WorkerSigns)
# A run that was missed while no scheduler ran waits for its next time.
app.conf.beat_cron_starting_deadline = 60
# Every entry may run twice or late without harm; `expires` keeps a dead worker's backlog short.
app.conf.beat_schedule = {
    "sweep media": {
        "task": "apps.viewings.tasks.sweep_media",
        "schedule": settings.SWEEP_SECONDS,
        "options": {"expires": 60},
    },
    "sweep media files": {
        "task": "apps.viewings.tasks.sweep_files",
        # At night and never at a start: after a restore the records may come later than the files.
        "schedule": crontab(hour="3", minute="17"),
        "options": {"expires": 3600},
    },
    "sweep": {
        "task": "apps.appraisal.tasks.sweep",
        "schedule": settings.SWEEP_SECONDS,
        "options": {"expires": 60},
    },
    "sweep archives": {
        "task": "apps.archives.tasks.sweep_archives",
        "schedule": settings.SWEEP_SECONDS,
        "options": {"expires": 60},
    },
    "lapse offers": {
        "task": "apps.purchase.tasks.lapse_offers",
        "schedule": timedelta(hours=1),
        "options": {"expires": 3600},
    },
    "sweep notifications": {
        "task": "apps.notifications.tasks.sweep_notifications",
        "schedule": settings.SWEEP_SECONDS,
        "options": {"expires": 60},
    },
    "send digests": {
        "task": "apps.notifications.tasks.send_digests",
        "schedule": settings.SWEEP_SECONDS,
        "options": {"expires": 60},
    },
    "prune notifications": {
        "task": "apps.notifications.tasks.prune_notifications",
        "schedule": timedelta(days=1),
    },
    "sweep trips": {
        "task": "apps.planning.tasks.sweep_trips",
        "schedule": settings.SWEEP_SECONDS,
        "options": {"expires": 60},
    },
    "pool clubs": {
        "task": "apps.appraisal.tasks.pool_clubs",
        "schedule": settings.POOL_CLUBS_EVERY,
        "options": {"expires": 3600},
    },
    "refresh outcomes": {
        "task": "apps.outcomes.tasks.refresh_outcomes",
        "schedule": settings.REFRESH_OUTCOMES_EVERY,
        "options": {"expires": 3600},
    },
    "sweep-deliveries": {
        "task": "apps.events.tasks.sweep_deliveries",
        "schedule": settings.SWEEP_SECONDS,
        "options": {"expires": 60},
    },
    "prune": {"task": "apps.events.tasks.prune", "schedule": timedelta(days=1)},
    "prune_idempotency_records": {
        "task": "apps.http.tasks.prune",
        "schedule": timedelta(days=1),
    },
    "spent keys": {
        "task": "apps.accounts.tasks.spent_keys_clear",
        "schedule": 24 * 3600,
        "options": {"expires": 3600},
    },
}


# What the results of lists and of clubs need of a library that loads its parts on first use.
PARTS = ("linalg", "optimize", "sparse.csgraph", "special")


@celeryd_after_setup.connect
def before_forking(instance: Any, **_: Any) -> None:
    """Load what the pool's processes will use, so that they share it."""
    if set(instance.app.amqp.queues.consume_from) != {"sending"}:
        for part in PARTS:
            import_module(f"scipy.{part}")
    spare_collector()


def spare_collector() -> None:
    """Exclude objects that live as long as the process from garbage collection.

    Visiting all of them takes a tenth of a second, most often during a recompute.
    """
    gc.collect()
    gc.freeze()


@worker_process_init.connect
def trace(**_: Any) -> None:
    traces.begin()
