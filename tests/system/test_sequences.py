"""Many operations one after another, in an order that nobody thought of.

Each sequence calls operations of the schema at random, mostly by somebody who may; what one makes
is used by those that follow. Whatever the order: no server error, only documented answers, nothing
that leaks, and the background work on the group succeeds afterwards. SEQUENCES and STEPS make it
longer.
"""

import os
import random
import re
from collections import Counter
from contextlib import suppress
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from django.core.exceptions import ObjectDoesNotExist
from django.db import connection, transaction

from apps.appraisal.jobs import list_recompute
from apps.appraisal.models import ListAppraisal
from apps.boats.list_models import CandidateList
from apps.notifications.jobs import group_notify
from apps.notifications.models import EventCursor
from tests.system.calls import CALLS
from tests.system.operations import Operation, filled, operations
from tests.system.walk import Walk, those, undone

pytestmark = [pytest.mark.django_db, pytest.mark.long]

SEQUENCES = int(os.environ.get("SEQUENCES", "1"))
STEPS = int(os.environ.get("STEPS", "150"))
OTHERS = ("organiser", "buyer", "helper", "observer", "adviser", "secretary", "other_group", "left")


@pytest.mark.parametrize("number", range(SEQUENCES))
def test_any_order_of_operations_is_foreseen(worlds, number):
    chance = random.Random(number)
    # Those after which a person or a group of the world is gone come rarely: they end much.
    every = those(lambda one: one.id not in ENDING) * 4 + those(lambda one: one.id in ENDING)
    with undone():
        walk = replace(worlds, here=replace(worlds.here, ids=dict(worlds.here.ids)))
        statuses = Counter(step(walk, chance.choice(every), chance) for _ in range(STEPS))
        print(number, sorted(statuses.items()))
        connection.check_constraints()
        work_is_done(walk)
    done = sum(n for status, n in statuses.items() if 200 <= status < 300)
    assert done > STEPS / 3, statuses


ENDING = {"people_delete_me", "members_end", "club_members_end", "sessions_close", "imports_create"}


def step(walk: Walk, operation: Operation, chance: random.Random) -> int:
    """Call one operation, and perhaps use what it made from now on. Returns its status."""
    call = CALLS[operation.id]
    if call.given and chance.random() < 0.5:
        with suppress(*NOT_THERE), transaction.atomic():
            call.given(walk.here)
    try:
        filled(operation.path, walk.here.named, call.at)
        body = call.body(walk.here) if call.body else None
    except NOT_THERE:
        return 0
    by = call.by if chance.random() < 0.75 else chance.choice(OTHERS)
    with transaction.atomic():
        answer = walk.ask(operation, by, body=body, **walk.version(operation))
    assert answer.status_code < 500
    if answer.status_code == 201 and chance.random() < 0.5:
        keep_id(walk, operation, answer.json())
    return int(answer.status_code)


# After what came before, the records of an operation cannot always be made: calls are refused, or
# what they look for is gone.
NOT_THERE = (AssertionError, ObjectDoesNotExist, LookupError, ZeroDivisionError)


def keep_id(walk: Walk, operation: Operation, made: Any) -> None:
    """Use the record of an answer in paths from now on, by the name that its own path has."""
    name = parameters().get(operation.path.rpartition("/")[2])
    if name in walk.here.ids and isinstance(made, dict) and "id" in made:
        walk.here.ids[name] = made["id"]


@cache
def parameters() -> dict[str, str]:
    """The parameter that names one record, by the word for its collection."""
    own = (re.fullmatch(r"/api/v1/([a-z-]+)/\{(\w+)\}", one.path) for one in operations().values())
    return {match[1]: match[2] for match in own if match}


def work_is_done(walk: Walk) -> None:
    """Results and notifications of everything that is there now."""
    for group in (walk.here.group, walk.there.group):
        for one in CandidateList.objects.filter(group=group):
            list_recompute(list_id=one.pk)
            assert not ListAppraisal.objects.filter(list=one).exclude(last_error="").exists()
        group_notify(group_id=group.pk)
        assert not EventCursor.objects.filter(group=group.pk).exclude(last_error="").exists()
