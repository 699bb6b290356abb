"""Traces of requests, tasks and queries by OpenTelemetry, where requirements-otel.txt is installed.

Without OTEL_EXPORTER_OTLP_ENDPOINT nothing is loaded. The exporter reads that and its other
settings from the environment, as the OpenTelemetry specification names them.
"""

import os
from typing import Any

from server.logs import LEFT_OUT, redacted

# Attributes of a request that hold its address; old and new names of the semantic conventions.
ADDRESSES = ("http.url", "http.target", "url.full", "url.path", "url.query")


def begin() -> None:
    """Trace this process from now on. Call it after a fork: the exporter has a thread."""
    if not os.environ.get("OTEL_EXPORTER_OTLP_ENDPOINT"):
        return
    from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
    from opentelemetry.sdk.trace.export import BatchSpanProcessor

    trace_to(BatchSpanProcessor(OTLPSpanExporter()))


def trace_to(processor: Any) -> None:
    from opentelemetry import trace
    from opentelemetry.instrumentation.celery import CeleryInstrumentor
    from opentelemetry.instrumentation.django import DjangoInstrumentor
    from opentelemetry.instrumentation.psycopg import PsycopgInstrumentor
    from opentelemetry.sdk.resources import Resource
    from opentelemetry.sdk.trace import TracerProvider

    provider = TracerProvider(resource=Resource.create({"service.name": "hardstand"}))
    provider.add_span_processor(processor)
    trace.set_tracer_provider(provider)
    DjangoInstrumentor().instrument(request_hook=without_secrets)
    of_tasks: Any = CeleryInstrumentor  # it has no types
    of_tasks().instrument()
    PsycopgInstrumentor().instrument()  # texts of queries, without their values


def without_secrets(span: Any, request: Any) -> None:
    """As in the log: no query strings and no signed links."""
    attributes = span.attributes or {} if span.is_recording() else {}
    for name in ADDRESSES:
        if name in attributes:
            value = LEFT_OUT if name == "url.query" else redacted(str(attributes[name]))
            span.set_attribute(name, value)
