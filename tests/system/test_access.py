"""The table of who may do what is what the service does, for every operation and every role."""

from collections.abc import Iterator
from dataclasses import replace

import pytest

from apps.groups.needs import InClub, InGroup
from server.docs.access import (
    ALLOWS,
    HIDES,
    REFUSES,
    OperationAccess,
    access_table,
    exceptions,
    need_of,
)
from tests.system.calls import ADMISSION, ASKING, CALLS
from tests.system.operations import operations
from tests.system.test_conventions import tried
from tests.system.walk import Standing, Walk, those

# A person with only this role, author of nothing. test_conventions tries the observer.
WHO = {
    "organiser": "other_organiser",
    "buyer": "other_buyer",
    "helper": "helper",
    "secretary": "secretary",
    "adviser": "adviser",
    "member": "member",
}
# Only a person who may do it gets a refusal of the content.
MEANS = {401: "401", 403: REFUSES, 404: HIDES}


def table() -> dict[str, OperationAccess]:
    return {one.id: one for part in access_table() for one in part.operations}


@pytest.fixture
def walk(worlds, subtests) -> Iterator[Walk]:
    walk = replace(worlds, subtests=subtests, given=Standing())
    yield walk
    walk.given.end()


@pytest.mark.long
@pytest.mark.django_db
def test_each_role_gets_what_the_table_says(walk):
    for operation in those():
        with walk.trial(operation) as call:
            said = table()[operation.id].rule.by_role
            roles = [role for role in WHO if WHO[role] != call.by and not has_one_member(call.at)]
            found = {role: MEANS.get(tried(walk, operation, WHO[role]), ALLOWS) for role in roles}
            assert found == {role: said[role] for role in roles}


def has_one_member(at) -> bool:
    """Whether the call is about the organiser's other group, where the others have no role."""
    return at in (ASKING, ADMISSION)


def test_the_table_has_every_operation():
    assert table().keys() == operations().keys()


def test_outsiders_and_observers_get_what_the_conventions_try():
    """tests/system/test_conventions.py asks with what `calls.py` declares; here the two agree."""
    for id, one in table().items():
        call, writes = CALLS[id], operations()[id].writes
        assert MEANS.get(call.nobody, ALLOWS) == one.rule.nobody, id
        if not has_one_member(call.at):
            assert MEANS.get(call.observer or (403 if writes else 200), ALLOWS) == (
                one.rule.by_role["observer"] if one.rule.others == HIDES else ALLOWS
            ), id
        assert (call.outsider == 404) == (one.rule.others == HIDES), id


def test_nothing_is_said_by_hand_that_follows_from_the_views():
    for id in exceptions():
        assert id in operations(), f"{id} is gone"
        assert not isinstance(need_of(id), InGroup | InClub), id


def test_scopes_are_those_of_the_document():
    for id, one in table().items():
        assert one.scope == operations()[id].scope, id
