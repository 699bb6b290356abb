"""Traces, in a process of its own, which they change. Only an old environment lacks packages."""

import json
import os
import subprocess
import sys

import pytest

from tests.system.processes import ROOT

TRACED = """
import json
import django
django.setup()
from opentelemetry.sdk.trace.export import SimpleSpanProcessor
from opentelemetry.sdk.trace.export.in_memory_span_exporter import InMemorySpanExporter
from server import traces
kept = InMemorySpanExporter()
traces.trace_to(SimpleSpanProcessor(kept))
from django.test import Client
client = Client(SERVER_NAME="localhost")
client.get("/nothing/secret:0123456789abcdefghijklmnop?token=hidden")
client.get("/health/live")
print(json.dumps([[span.name, dict(span.attributes)] for span in kept.get_finished_spans()]))
"""
SERVED = {"DATABASE_URL", "REDIS_URL", "OTEL_EXPORTER_OTLP_ENDPOINT"}


def run(code: str, folder, **more: str) -> str:
    environment = {name: value for name, value in os.environ.items() if name not in SERVED} | more
    environment |= {"HARDSTAND_DATA_DIR": str(folder), "DJANGO_SETTINGS_MODULE": "server.settings"}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=environment, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_requests_are_traced_without_secrets(tmp_path):
    if not os.environ.get("HARDSTAND_CI"):
        pytest.importorskip("opentelemetry.instrumentation.django")
    text = run(TRACED, tmp_path)
    names = [name for name, _ in json.loads(text)]
    assert "GET health/live" in names
    assert "hidden" not in text
    assert "0123456789abcdefghijklmnop" not in text
    assert "/nothing/" in text


def test_without_an_address_for_them_nothing_is_loaded(tmp_path):
    loads = "from server import traces; traces.begin()"
    said = f"{loads}; import sys; print('opentelemetry' in sys.modules)"
    assert run(said, tmp_path).strip() == "False"
