"""Whether a group pools with its club: the organiser's word, on record, taken back at any time."""

import pytest
from django.db import IntegrityError, transaction

from apps.exchange.models import Event
from apps.groups.models import Club, Group
from tests.conftest import pointers


@pytest.fixture
def path(cast) -> str:
    Group.objects.filter(pk=cast.group.pk).update(club=Club.objects.create(name="Harbour"))
    return f"/groups/{cast.group.pk}"


def kinds(cast) -> list[str]:
    events = Event.objects.filter(group=cast.group.pk).order_by("number")
    return list(events.values_list("kind", flat=True))


def test_it_works(cast, path):
    assert cast.ben.get(path).json()["pools_with_club"] is False
    agreed = cast.ola.change("PATCH", path, {"pools_with_club": True})
    assert agreed.status_code == 200
    assert agreed.json()["pools_with_club"] is True
    assert agreed.json()["name"] == "Tern"
    assert kinds(cast) == ["group.pooling_agreed"]
    event = Event.objects.get(group=cast.group.pk)
    assert (event.by_id, event.thing_version) == (cast.ola.person.pk, agreed.json()["version"])


def test_it_is_taken_back_at_any_time(cast, path):
    cast.ola.change("PATCH", path, {"pools_with_club": True})
    ended = cast.ola.change("PATCH", path, {"pools_with_club": False})
    assert ended.json()["pools_with_club"] is False
    assert kinds(cast) == ["group.pooling_agreed", "group.pooling_ended"]


def test_renaming_leaves_it_as_it_is(cast, path):
    cast.ola.change("PATCH", path, {"pools_with_club": True})
    assert cast.ola.change("PATCH", path, {"name": "Ours"}).json()["pools_with_club"] is True
    assert kinds(cast) == ["group.pooling_agreed", "group.changed"]


def test_only_a_group_in_a_club_pools(cast):
    path = f"/groups/{cast.group.pk}"
    refused = cast.ola.change("PATCH", path, {"pools_with_club": True})
    assert pointers(refused) == {"/pools_with_club"}
    assert cast.ola.change("PATCH", path, {"pools_with_club": False}).status_code == 200
    with pytest.raises(IntegrityError), transaction.atomic():
        Group.objects.filter(pk=cast.group.pk).update(pools_with_club=True)


@pytest.mark.parametrize("who", ["ben", "hal", "ivy"])
def test_only_the_organiser_decides(cast, path, who):
    refused = getattr(cast, who).change("PATCH", path, {"pools_with_club": True})
    assert (refused.status_code, refused.json()["roles"]) == (403, ["organiser"])


def test_strangers_and_other_groups_see_nothing(cast, path):
    for who in (cast.wim, cast.sten):
        refused = who.patch(path, {"pools_with_club": True}, If_Match="*")
        assert refused.status_code == 404
    assert not Group.objects.get(pk=cast.group.pk).pools_with_club


def test_stale_and_missing_versions(cast, path):
    seen = cast.ola.get(path)["ETag"]
    assert cast.ola.patch(path, {"pools_with_club": True}, If_Match=seen).status_code == 200
    assert cast.ola.patch(path, {"pools_with_club": False}, If_Match=seen).status_code == 412
    assert cast.ola.patch(path, {"pools_with_club": False}).status_code == 428
    assert Group.objects.get(pk=cast.group.pk).pools_with_club


@pytest.mark.parametrize(("body", "at"), [({}, ""), ({"pools_with_club": "often"}, None)])
def test_bad_bodies_are_named(cast, path, body, at):
    refused = cast.ola.change("PATCH", path, body)
    assert pointers(refused) == {"/pools_with_club" if at is None else at}
