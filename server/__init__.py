"""The setup of the service: settings, urls, worker, container file."""

import gc
import os

# The collector of cyclic garbage runs less often than by default, at the start and later. While the
# application loads, it makes hundreds of thousands of objects, which stay: by default the collector
# visits them so often that this takes a fifth of the time until a process is ready.
gc.set_threshold(5_000, 10, 10)

# One thread for the linear algebra, said before NumPy loads. Its matrices are small, so that more
# threads mostly wait for each other, and the service runs several processes anyway.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from server import logs  # noqa: E402 (as above)
from server.celery import app as celery_app  # noqa: E402

logs.install()

__all__ = ["celery_app"]
