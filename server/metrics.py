"""Figures for Prometheus at /metrics, for whoever has METRICS_TOKEN; without one there are none.

Each process of the web server counts its own requests, in files that they share
(PROMETHEUS_MULTIPROC_DIR, set in server/web.py). Figures of the work are read from the database and
from Redis when they are asked for, so workers need no port of their own.
"""

import os
import time
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.db import connection
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.utils.crypto import constant_time_compare
from prometheus_client import (
    REGISTRY,
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    multiprocess,
)
from prometheus_client.exposition import CONTENT_TYPE_LATEST, generate_latest

from server.work_figures import work_figures

METHODS = {"GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE"}
BUCKETS = (0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0)

requests = Counter(
    "hardstand_requests", "Requests that were answered", ["route", "method", "status"]
)
seconds = Histogram(
    "hardstand_request_seconds",
    "Time to an answer, without requests that asked to wait for results",
    ["route"],
    buckets=BUCKETS,
)
pool_size = Gauge(
    "hardstand_database_connections",
    "Connections of the web server's processes to the database",
    ["state"],
    multiprocess_mode="livesum",
)


class Measured:
    """Middleware that counts and times requests by the pattern of their address, never by the
    address itself.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        started = time.perf_counter()
        response = self.get_response(request)
        match = request.resolver_match
        route = match.route if match else "none"
        method = request.method if request.method in METHODS else "other"
        requests.labels(route, method, response.status_code).inc()
        if "wait" not in request.GET:
            seconds.labels(route).observe(time.perf_counter() - started)
        note_pool()
        return response


def note_pool() -> None:
    pool = getattr(connection, "pool", None)
    if pool is None:
        return  # SQLite
    stats = pool.get_stats()
    free = stats.get("pool_available", 0)
    pool_size.labels("free").set(free)
    pool_size.labels("used").set(stats.get("pool_size", 0) - free)
    pool_size.labels("asked_for").set(stats.get("requests_waiting", 0))


def metrics(request: HttpRequest) -> HttpResponse:
    given = request.headers.get("Authorization", "")
    wanted = f"Bearer {settings.METRICS_TOKEN}"
    if not settings.METRICS_TOKEN or not constant_time_compare(given, wanted):
        raise Http404  # nobody else learns whether there are any
    body = generate_latest(counted()) + generate_latest(work_figures())
    return HttpResponse(body, content_type=CONTENT_TYPE_LATEST)


def counted() -> CollectorRegistry:
    """What the web server's processes counted."""
    if "PROMETHEUS_MULTIPROC_DIR" not in os.environ:
        return REGISTRY
    of_all = CollectorRegistry()
    untyped: Any = multiprocess
    untyped.MultiProcessCollector(of_all)
    return of_all
