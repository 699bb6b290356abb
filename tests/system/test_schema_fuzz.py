"""For any request of any role: no server error, and only documented answers.

Schemathesis makes requests from the OpenAPI document, some that fit it and some that do not, and
puts parts of them into bodies that succeed. Each is sent to existing records by somebody who may do
it and by two others, in turn of each role. FUZZ_EXAMPLES sets how many.
"""

import os
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from itertools import cycle
from typing import Any

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis import GenerationMode
from schemathesis.specs.openapi import checks

from server.wsgi import application
from tests.system.calls import CALLS
from tests.system.operations import Operation, document
from tests.system.walk import Standing, Walk, those, undone
from tests.system.world import with_files

pytestmark = [pytest.mark.django_db, pytest.mark.long]

EXAMPLES = int(os.environ.get("FUZZ_EXAMPLES", "2"))
MADE_ID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
ROLES = ("organiser", "buyer", "helper", "observer", "other_group", "nobody")
FORESEEN = [
    schemathesis.checks.not_a_server_error,
    checks.status_code_conformance,
    checks.content_type_conformance,
    checks.response_headers_conformance,
    checks.response_schema_conformance,
]


@pytest.fixture
def walk(worlds, subtests) -> Iterator[Walk]:
    walk = replace(worlds, subtests=subtests, given=Standing())
    yield walk
    walk.given.end()


@contextmanager
def one_transaction() -> Iterator[None]:
    """The service gives its connection back around each request, and the test's transaction with
    it: that is left out here, as Django's own client for tests does."""
    signals = (request_started, request_finished)
    for signal in signals:
        signal.disconnect(close_old_connections)
    yield
    for signal in signals:
        signal.connect(close_old_connections)


def test_nothing_unforeseen_comes_of_requests_made_from_the_document(walk):
    schema = schemathesis.openapi.from_dict(document())
    schema.app = application
    for operation in those():
        with walk.trial(operation):
            send_many(walk, operation, schema[operation.path][operation.method])


def send_many(walk: Walk, operation: Operation, made_from: Any) -> None:
    call = CALLS[operation.id]
    there = {n: walk.here.named[call.at.get(n, n)] for n in operation.parameters("path")}
    held = {k.replace("_", "-"): v for k, v in walk.version(operation).items()}
    fitting, unfitting = (
        made_from.as_strategy(mode, path_parameters=there, headers=headers)
        for mode, headers in ((GenerationMode.POSITIVE, held), (GenerationMode.NEGATIVE, None))
    )
    kinds = [fitting, unfitting]
    if call.body:
        good = call.body(walk.here)
        good = with_files(good) if operation.takes_form else good
        # As a function: its files would be printed with the strategy.
        kinds.insert(0, mixed(fitting, lambda: good, sorted(walk.here.ids.values())))
    others = cycle(role for role in ROLES if role != call.by)

    @given(st.one_of(*kinds))
    @settings(
        max_examples=EXAMPLES,
        derandomize=True,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    def send(case: schemathesis.Case) -> None:
        for role in (call.by, next(others), next(others)):
            with undone(), one_transaction():
                secret = walk.who[role].secret
                headers = {"Authorization": f"Bearer {secret}"} if secret else {}
                answer = case.call(headers=headers, environ_base={"REMOTE_ADDR": "127.0.0.1"})
                case.validate_response(answer, checks=FORESEEN)

    send()


@st.composite
def mixed(
    draw: Any, fitting: Any, succeeds: Callable[[], Any], ids: list[str]
) -> schemathesis.Case:
    """A body that succeeds, with some of its parts made from the document, and existing ids.

    What is made from the document alone is mostly refused, because it names records and codes that
    do not exist; this gets past those checks.
    """
    case, good = draw(fitting), succeeds()
    if not isinstance(case.body, dict) or not isinstance(good, dict):
        return case
    existing = st.sampled_from(ids)
    made = draw(st.sets(st.sampled_from(sorted(case.body)))) if case.body else set()
    case.body = good | {n: with_ids(case.body[n], lambda: draw(existing)) for n in sorted(made)}
    return case


def with_ids(body: Any, existing: Callable[[], str]) -> Any:
    """The body with an existing id in place of each made one."""
    if isinstance(body, dict):
        return {name: with_ids(part, existing) for name, part in body.items()}
    if isinstance(body, list):
        return [with_ids(part, existing) for part in body]
    return existing() if isinstance(body, str) and MADE_ID.fullmatch(body) else body


# What converters, encoders and databases stumble over; AWKWARD=all takes the longer list.
AWKWARD = ["x" * 5_000, 10**20, 1e308, None, {"a": 1}, ["x"]]
MORE_AWKWARD = [
    "", " ", "\u200b", "\U0001f6a2", "x" * 100_000, "NaN", "1e999", "-0", "0" * 300, "2025-02-30",
    "0001-01-01T00:00:00Z", "9999-12-31T23:59:59-23:59", "00000000-0000-0000-0000-000000000000",
    0, -1, 2**31, 2**63, -(10**20), 0.1, 1e-320, -1e308, True, False, [], [[]], [None], {},
    {"": {}},
]  # fmt: skip


def test_one_awkward_value_in_a_good_body_is_no_server_error(walk):
    values = AWKWARD + MORE_AWKWARD if os.environ.get("AWKWARD") == "all" else AWKWARD
    for operation in those(assignments_json):
        with walk.trial(operation) as call:
            body, version = call.body(walk.here), walk.version(operation)
            for awkward in (b for value in values for b in with_one_changed(body, value)):
                with undone():
                    answer = walk.ask(operation, body=awkward, **version)
                    assert answer.status_code < 500, awkward


def assignments_json(operation: Operation) -> bool:
    return operation.takes_body and not operation.takes_form


def with_one_changed(body: Any, value: Any) -> Iterator[Any]:
    """The body with each of its parts replaced by the value, one at a time."""
    yield value
    if not isinstance(body, dict | list):
        return
    for name, part in body.items() if isinstance(body, dict) else enumerate(body):
        for changed in with_one_changed(part, value):
            copy = body.copy()
            copy[name] = changed
            yield copy


@pytest.mark.parametrize("text", ["a\0b", "\ud800"])
def test_a_character_that_cannot_be_kept_is_pointed_to_in_every_text(walk, text):
    for operation in those(assignments_json):
        with walk.trial(operation) as call:
            for body in with_one_changed(call.body(walk.here), text):
                if isinstance(body, dict):
                    refused = walk.ask(operation, body=body, If_Match="*")
                    assert refused.status_code == 422
                    (fault,) = refused.json()["errors"]
                    assert fault["code"] == "unkeepable_character"
