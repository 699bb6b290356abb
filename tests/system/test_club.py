"""A club of 40 members, 12 groups and 90 boats in 9 yards, end to end through the API.

The club is invented; its groups' boats lie in the same yards, and nobody sees another group's.
"""

import os

import pytest
from django.core.management import call_command

from apps.appraisal import computing
from apps.appraisal.jobs import list_recompute, lists_due
from tests.system.club import BOATS, GROUPS, MEMBERS, PASSWORD, SECRETARY, ClubStory
from tests.system.transport import in_process
from tests.system.walk import undone


def work() -> None:
    """A worker's part; there is none in a test."""
    for list_id in lists_due().values_list("pk", flat=True):
        list_recompute(list_id=list_id)


@pytest.fixture(scope="module")
def club(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock(), undone(), pytest.MonkeyPatch.context() as patched:
        patched.setattr(computing, "DRAWS", 1024)  # how good figures are is tested elsewhere
        patched.setitem(os.environ, "HARDSTAND_PASSWORD", PASSWORD)
        call_command("load_catalogue", verbosity=0)
        call_command("add_person", SECRETARY["email"], SECRETARY["name"])
        story = ClubStory(in_process).play()
        work()
        yield story


@pytest.fixture(autouse=True)
def _undone(club):
    with undone():
        yield


def test_it_is_the_club_that_was_meant(club):
    members = list(club.secretary.pages(f"/clubs/{club.club}/members"))
    assert len(members) == MEMBERS
    assert len(club.groups) == GROUPS
    assert len(club.boats) == BOATS
    assert len({boat.yard for boat in club.boats}) == 9
    assert club.findings > 5_000


def test_every_group_gets_its_own_boats_in_order(club):
    seen = []
    for group in club.groups:
        board = club.people[group.people[0]].get(f"/lists/{group.list_id}/board")
        assert board["fresh"]
        rows = [*board["candidates"], *board["struck_off"]]
        assert {row["candidate_id"] for row in rows} == {boat.id for boat in group.boats}
        seen += [row["candidate_id"] for row in rows]
    assert len(set(seen)) == BOATS
