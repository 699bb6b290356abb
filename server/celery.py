"""The worker's application. Schedules live here, all in one place."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "server.settings")

app = Celery("hardstand")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
