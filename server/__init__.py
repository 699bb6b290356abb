"""How the service is put together and run: settings, urls, worker, container file."""

from server import logs
from server.celery import app as celery_app

logs.install()

__all__ = ["celery_app"]
