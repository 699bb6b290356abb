"""An import in steps: it continues after a crash, and is visible only when complete."""

from collections import Counter
from typing import Any

import pytest
from django.db import OperationalError
from django.test import Client

from apps.accounts.models import Person
from apps.appraisal.jobs import lists_behind, lists_due
from apps.archives import jobs, storing
from apps.archives.kinds import KINDS
from apps.archives.leaving import archives_prune
from apps.archives.models import Import
from apps.events.models import Event
from apps.groups.models import Group, Membership
from apps.groups.rules import visible_groups
from apps.jobs.backoff import ASKED
from apps.planning.jobs import trips_due
from apps.viewings.media.models import Photo
from apps.viewings.media.preparing import waiting
from tests.archives.conftest import archive_of, exported, fetched, imported, repacked, unpacked


class Killed(BaseException):
    """Ends the process; no handler can catch it."""


@pytest.fixture
def archive(full, cast) -> bytes:
    return archive_of(cast)


@pytest.fixture(autouse=True)
def _small_steps(monkeypatch):
    monkeypatch.setattr(storing, "BATCH", 7)
    monkeypatch.setattr(storing.time, "sleep", lambda seconds: None)


def sent(cast, content: bytes) -> str:
    opened = cast.ola.post("/imports").json()
    came = Client().put(opened["upload"]["url"], content, content_type="application/zip")
    assert came.status_code == 204
    return opened["id"]


def take(import_id: str) -> None:
    Import.objects.update(leased_until=None, next_attempt_at=None)
    jobs.import_run(import_id=import_id)


def rows() -> Counter:
    models = {kind.model for kind in KINDS} | {Group, Person}
    return Counter({model.__name__: model._base_manager.count() for model in models})


def dying(monkeypatch, after: int) -> Any:
    """Make storing die after so many steps; each step is one transaction, and stays."""
    left = [after]

    def sleep(seconds):
        left[0] -= 1
        if left[0] <= 0:
            raise Killed

    return monkeypatch.setattr(storing.time, "sleep", sleep)


def steps_of(cast, archive: bytes, monkeypatch) -> int:
    """The number of steps of a complete import, as a separate group."""
    made = []
    with monkeypatch.context() as counting:
        counting.setattr(storing.time, "sleep", made.append)
        assert imported(cast.ola, archive)["state"] == "done"
    return len(made)


def seen_by_anybody(cast) -> list[tuple[str, list[str]]]:
    return [
        (name, sorted(row["id"] for row in getattr(cast, name).get("/groups").json()["results"]))
        for name in ("ola", "ben", "bea", "hal", "ivy", "wim")
    ]


def test_it_goes_on_wherever_it_was_broken_off(archive, cast, monkeypatch):
    steps = steps_of(cast, archive, monkeypatch)
    assert steps > 10
    straight = rows()
    taken = sent(cast, archive)
    deaths = 0
    while Import.objects.get(pk=taken).state == "waiting":
        with monkeypatch.context() as killing:
            dying(killing, 1)
            try:
                take(taken)
            except Killed:
                deaths += 1
    assert deaths == steps, "it died after each step, and made each once"
    came = cast.ola.get(f"/imports/{taken}").json()
    assert (came["state"], came["faults"]) == ("done", [])
    again = rows()
    before = {name: again[name] - straight[name] for name in straight}
    both = imported(cast.ola, archive)
    assert both["state"] == "done"
    assert {name: count - again[name] for name, count in rows().items()} == before
    assert counted(cast, came["group"]) == counted(cast, both["group"])
    assert Event.objects.filter(group=came["group"], kind="group.imported").count() == 1


def counted(cast, group: str) -> dict[str, int]:
    """The number of rows by kind in the group's own archive."""
    made = fetched(exported(cast.ola, f"/groups/{group}/exports"))
    return {name: len(found) for name, found in unpacked(made).rows.items()}


def test_a_step_that_was_not_made_is_made_again(archive, cast, monkeypatch):
    """The machine dies before the transaction is over."""
    taken = sent(cast, archive)
    real, votes = jobs._advance, []

    def advance(*args):
        votes.append(args)
        real(*args)
        if len(votes) in (1, 2, 5, 9):
            raise Killed

    with monkeypatch.context() as killing:
        killing.setattr(jobs, "_advance", advance)
        for _ in range(4):
            with pytest.raises(Killed):
                take(taken)
        take(taken)
    came = cast.ola.get(f"/imports/{taken}").json()
    assert (came["state"], came["counts"]["candidates"]) == ("done", 4)


def test_nobody_ever_sees_half(archive, cast, monkeypatch):
    """Between any two steps: no reader, no job and no export knows of it."""
    before = seen_by_anybody(cast)
    behind, media = set(lists_behind()), {one.pk for one in waiting(Photo)}
    events = Event.objects.count()
    looked = []

    def look(seconds):
        group = Group.objects.filter(importing=True).first()
        if group is None:  # the last step is over
            return
        looked.append(group.pk)
        assert seen_by_anybody(cast) == before
        for who in (cast.ola, cast.ben):
            assert not visible_groups(who.person).filter(pk=group.pk).exists()
            assert who.get(f"/groups/{group.pk}").status_code == 404
        assert not Membership.objects.filter(group=group).exists()
        assert cast.ola.get(f"/imports/{taken}").json()["group"] is None
        assert not lists_due().filter(group=group).exists()
        assert not trips_due().filter(group=group).exists()
        assert {one.pk for one in waiting(Photo)} == media
        assert Event.objects.count() == events

    taken = sent(cast, archive)
    monkeypatch.setattr(storing.time, "sleep", look)
    take(taken)
    assert len(looked) > 10
    group = cast.ola.get(f"/imports/{taken}").json()["group"]
    assert cast.ola.get(f"/groups/{group}").status_code == 200
    assert set(lists_behind()) > behind, "now its lists are worked out"


def test_ones_own_data_hold_nothing_that_is_half_there(archive, cast, monkeypatch):
    before = unpacked(fetched(exported(cast.ben, "/people/me/exports"))).rows
    taken = sent(cast, archive)
    with monkeypatch.context() as killing:
        dying(killing, 15)
        with pytest.raises(Killed):
            take(taken)
    after = unpacked(fetched(exported(cast.ben, "/people/me/exports"))).rows
    assert after == before


# --- What comes to nothing -----------------------------------------------------------------------


def test_what_is_refused_late_is_taken_back(archive, cast):
    """The database finds it in the last step: that a share is for who buys."""
    before = rows()

    def spoil(opened):
        for row in opened.rows["memberships"]:
            row["buys"], row["share"] = False, "0.5"

    taken = sent(cast, repacked(archive, spoil))
    take(taken)
    came = cast.ola.get(f"/imports/{taken}").json()
    assert (came["state"], came["group"]) == ("refused", None)
    assert came["faults"][0]["code"] == "contradiction"
    assert rows() == before


def test_what_is_given_up_is_taken_back(archive, cast, monkeypatch):
    before = rows()
    taken = sent(cast, archive)
    with monkeypatch.context() as killing:
        dying(killing, 12)
        with pytest.raises(Killed):
            take(taken)
    assert rows() != before

    def broken(*_):
        raise RuntimeError("of this service")

    monkeypatch.setattr(storing.ImportableArchive, "_store", broken)
    for _ in range(ASKED.most_attempts):
        take(taken)
    assert cast.ola.get(f"/imports/{taken}").json()["state"] == "failed"
    assert rows() == before


def test_the_sweep_takes_back_what_was_left(archive, cast, monkeypatch):
    """The process that took it back was killed as well."""
    before = rows()
    taken = sent(cast, archive)
    with monkeypatch.context() as killing:
        dying(killing, 12)
        with pytest.raises(Killed):
            take(taken)
    Import.objects.update(state="failed")
    with monkeypatch.context() as killing:
        dying(killing, 3)
        with pytest.raises(Killed):
            jobs.sweep()
    jobs.sweep()
    assert rows() == before


def test_whoever_leaves_meanwhile_leaves_nothing_half_done(archive, cast, monkeypatch):
    taken = sent(cast, archive)
    with monkeypatch.context() as killing:
        dying(killing, 12)
        with pytest.raises(Killed):
            take(taken)
    half = Group.objects.get(importing=True)
    archives_prune(cast.ola.person)
    take(taken)
    jobs.sweep()
    assert not Group.objects.filter(pk=half.pk).exists()


def test_a_locked_database_is_no_fault_of_the_archive(archive, cast, monkeypatch):
    """Before, it counted as a row that contradicts others, and the archive was refused for good."""
    taken = sent(cast, archive)
    real, failed = storing.ImportableArchive._keep_dates, []

    def locked(self, *args):
        if not failed:
            failed.append(args)
            raise OperationalError("database is locked")
        real(self, *args)

    monkeypatch.setattr(storing.ImportableArchive, "_keep_dates", locked)
    take(taken)
    assert cast.ola.get(f"/imports/{taken}").json()["state"] == "waiting"
    take(taken)
    assert cast.ola.get(f"/imports/{taken}").json()["state"] == "done"


def test_steps_that_are_made_are_no_failed_attempts(archive, cast, monkeypatch):
    """A large import may be interrupted more often than the limit of failed attempts."""
    taken = sent(cast, archive)
    for _ in range(ASKED.most_attempts + 2):
        with monkeypatch.context() as killing:
            dying(killing, 2)
            with pytest.raises(Killed):
                take(taken)
    take(taken)
    assert cast.ola.get(f"/imports/{taken}").json()["state"] == "done"


def test_who_is_recognised_is_decided_once(archive, cast, monkeypatch):
    """People who join or change their address between two steps stay matched as before."""
    taken = sent(cast, archive)
    with monkeypatch.context() as killing:
        dying(killing, 5)
        with pytest.raises(Killed):
            take(taken)
    Person.objects.filter(pk=cast.ben.person.pk).update(email="ben@elsewhere.example")
    take(taken)
    group = cast.ola.get(f"/imports/{taken}").json()["group"]
    assert Membership.objects.filter(group=group, person=cast.ben.person).exists()
