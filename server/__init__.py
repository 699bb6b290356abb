"""The setup of the service: settings, urls, worker, container file."""

import os

# One thread for the linear algebra, said before NumPy loads. Its matrices are small, so that more
# threads mostly wait for each other, and the service runs several processes anyway.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from server import logs
from server.celery import app as celery_app

logs.install()

__all__ = ["celery_app"]
