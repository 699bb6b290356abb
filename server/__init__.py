"""How the service is put together and run: settings, urls, worker, container file."""

from server.celery import app as celery_app

__all__ = ["celery_app"]
