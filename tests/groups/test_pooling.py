"""A group's agreements with its club: by the organiser, recorded, revocable at any time."""

import pytest
from django.db import IntegrityError, transaction

from apps.events.models import Event
from apps.groups.models import Club, Group
from tests.conftest import pointers

AGREEMENTS = {"pools_with_club": "pooling", "shares_surveys": "sharing"}


@pytest.fixture(params=AGREEMENTS)
def agreed(request) -> str:
    """The agreement's field, and its name in events."""
    return request.param


@pytest.fixture
def word(agreed) -> str:
    return AGREEMENTS[agreed]


@pytest.fixture
def path(cast) -> str:
    Group.objects.filter(pk=cast.group.pk).update(club=Club.objects.create(name="Harbour"))
    return f"/groups/{cast.group.pk}"


def kinds(cast) -> list[str]:
    events = Event.objects.filter(group=cast.group.pk).order_by("number")
    return list(events.values_list("kind", flat=True))


def test_it_works(cast, path, agreed, word):
    assert cast.ben.get(path).json()[agreed] is False
    said = cast.ola.change("PATCH", path, {agreed: True})
    assert said.status_code == 200
    assert said.json()[agreed] is True
    assert said.json()["name"] == "Tern"
    assert kinds(cast) == [f"group.{word}_agreed"]
    event = Event.objects.get(group=cast.group.pk)
    assert (event.by_id, event.thing_version) == (cast.ola.person.pk, said.json()["version"])


def test_it_is_taken_back_at_any_time(cast, path, agreed, word):
    cast.ola.change("PATCH", path, {agreed: True})
    ended = cast.ola.change("PATCH", path, {agreed: False})
    assert ended.json()[agreed] is False
    assert kinds(cast) == [f"group.{word}_agreed", f"group.{word}_ended"]


def test_renaming_leaves_it_as_it_is(cast, path, agreed, word):
    cast.ola.change("PATCH", path, {agreed: True})
    assert cast.ola.change("PATCH", path, {"name": "Ours"}).json()[agreed] is True
    assert kinds(cast) == [f"group.{word}_agreed", "group.changed"]


def test_only_a_group_in_a_club_pools(cast, agreed):
    path = f"/groups/{cast.group.pk}"
    refused = cast.ola.change("PATCH", path, {agreed: True})
    assert pointers(refused) == {f"/{agreed}"}
    assert cast.ola.change("PATCH", path, {agreed: False}).status_code == 200
    with pytest.raises(IntegrityError), transaction.atomic():
        Group.objects.filter(pk=cast.group.pk).update(**{agreed: True})


@pytest.mark.parametrize("who", ["ben", "hal", "ivy"])
def test_only_the_organiser_decides(cast, path, who, agreed):
    refused = getattr(cast, who).change("PATCH", path, {agreed: True})
    assert (refused.status_code, refused.json()["roles"]) == (403, ["organiser"])


def test_strangers_and_other_groups_see_nothing(cast, path, agreed):
    for who in (cast.wim, cast.sten):
        refused = who.patch(path, {agreed: True}, If_Match="*")
        assert refused.status_code == 404
    assert not getattr(Group.objects.get(pk=cast.group.pk), agreed)


def test_stale_and_missing_versions(cast, path, agreed):
    seen = cast.ola.get(path)["ETag"]
    assert cast.ola.patch(path, {agreed: True}, If_Match=seen).status_code == 200
    assert cast.ola.patch(path, {agreed: False}, If_Match=seen).status_code == 412
    assert cast.ola.patch(path, {agreed: False}).status_code == 428
    assert getattr(Group.objects.get(pk=cast.group.pk), agreed)


BAD = {"shares_surveys": "often", "pools_with_club": 2}


@pytest.mark.parametrize(("body", "at"), [({}, {""}), (BAD, {f"/{name}" for name in BAD})])
def test_bad_bodies_are_named(cast, path, body, at):
    assert pointers(cast.ola.change("PATCH", path, body)) == at


def test_both_at_once_are_two_events(cast, path):
    cast.ola.change("PATCH", path, dict.fromkeys(AGREEMENTS, True))
    assert kinds(cast) == ["group.pooling_agreed", "group.sharing_agreed"]
