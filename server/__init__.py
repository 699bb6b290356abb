"""The setup of the service: settings, urls, worker, container file."""

from server import logs
from server.celery import app as celery_app

logs.install()

__all__ = ["celery_app"]
