"""Imports: every value is checked, and all or nothing is stored."""

import errno
import io
import zipfile
from collections import Counter
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.storage import FileSystemStorage
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone

from apps.accounts.models import Person
from apps.archives import jobs
from apps.archives.files import file_open
from apps.archives.models import Import
from apps.archives.packing import LARGEST_ROWS
from apps.archives.reading import new_ids
from apps.boats.models import Candidate
from apps.events.models import Event
from apps.groups.models import Group, Membership
from apps.jobs.backoff import ASKED
from apps.viewings.models import Submission
from tests.archives.conftest import (
    Opened,
    archive_of,
    exported,
    fetched,
    imported,
    repacked,
    unpacked,
)


@pytest.fixture
def archive(full, cast) -> bytes:
    return archive_of(cast)


def test_it_works(archive, cast):
    came = imported(cast.ola, archive)
    assert came["state"] == "done", came
    assert came["faults"] == []
    assert came["upload"] is None
    assert came["counts"]["candidates"] == 4
    group = Group.objects.get(pk=came["group"])
    assert group.name == "Tern"
    assert Event.objects.filter(group=group.pk, kind="group.imported").count() == 1
    petrel = Candidate.objects.get(list__group=group, name="Petrel")
    old = Candidate.objects.exclude(pk=petrel.pk).get(name="Petrel")
    assert (petrel.stage, petrel.asking_amount) == (old.stage, old.asking_amount)
    assert petrel.created_at == old.created_at
    change, was = petrel.stage_changes.earliest("pk"), old.stage_changes.earliest("pk")
    assert (change.by, change.created_at, change.reason) == (was.by, was.created_at, "Dry bilge")
    assert [row["id"] for row in cast.ola.get("/imports").json()["results"]] == [came["id"]]
    with pytest.raises(FileNotFoundError):
        file_open(Import.objects.get().key)


def test_who_may(cast):
    assert cast.nobody.post("/imports").status_code == 401
    opened = cast.ola.post("/imports").json()
    for who in (cast.ben, cast.wim, cast.sten):
        assert who.get(f"/imports/{opened['id']}").status_code == 404
        assert who.get("/imports").json()["results"] == []


def test_a_file_can_be_sent_once(archive, cast):
    url = cast.ola.post("/imports").json()["upload"]["url"]
    send = lambda: Client().put(url, archive, content_type="application/zip")  # noqa: E731
    assert send().status_code == 204
    assert send().status_code == 409


def test_a_file_too_large_is_not_taken(cast, settings):
    settings.ARCHIVE_LARGEST_BYTES = 1000
    url = cast.ola.post("/imports").json()["upload"]["url"]
    assert Client().put(url, b"x" * 1001, content_type="application/zip").status_code == 413
    assert Import.objects.get().state == "upload"


def test_a_place_for_a_file_that_never_came_is_closed(cast):
    opened = cast.ola.post("/imports").json()
    Import.objects.update(created_at=timezone.now() - timedelta(hours=2))
    jobs.sweep()
    shown = cast.ola.get(f"/imports/{opened['id']}").json()
    assert (shown["state"], shown["upload"]) == ("expired", None)
    sent = Client().put(opened["upload"]["url"], b"x", content_type="application/zip")
    assert sent.status_code in (404, 409)


def test_two_workers_store_it_once(archive, cast, monkeypatch):
    """The lease of the first ran out while it read; both come to the end."""
    before = Group.objects.count()
    real, nested = jobs.acquaintances, []

    def acquaintances(person):
        if not nested:
            nested.append(person)
            Import.objects.update(leased_until=None)
            jobs.import_run(import_id=Import.objects.get().pk)
        return real(person)

    monkeypatch.setattr(jobs, "acquaintances", acquaintances)
    came = imported(cast.ola, archive)
    assert nested
    assert came["state"] == "done"
    assert Group.objects.count() == before + 1


# --- What is refused -----------------------------------------------------------------------------


def stored() -> Counter:
    return Counter(
        {m: m._base_manager.count() for m in (Group, Membership, Person, Candidate, Submission)}
    )


def refused(cast, content: bytes) -> dict:
    """The first fault, after checking that nothing was stored."""
    before = stored()
    came = imported(cast.ola, content)
    assert came["state"] == "refused", came
    assert stored() == before
    assert came["group"] is None
    return came["faults"][0]


def test_what_is_no_archive_is_refused(cast):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("readme.txt", "Hello")
    for content in (b"", b"no zip at all", out.getvalue()):
        assert refused(cast, content)["code"] in ("no_archive", "missing")


def test_a_persons_archive_makes_no_group(cast):
    content = fetched(exported(cast.ola, "/people/me/exports"))
    assert refused(cast, content)["code"] == "no_group"


@pytest.mark.parametrize("version", [1, 3])
def test_another_version_is_refused_with_what_to_do(version, archive, cast):
    other = repacked(archive, lambda o: o.manifest.update(version=version))
    fault = refused(cast, other)
    assert fault["code"] == "unknown_version"
    assert "the version of the service that made it" in fault["detail"]


def test_a_damaged_file_is_noticed(archive, cast):
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(archive)) as packed, zipfile.ZipFile(out, "w") as other:
        for name in packed.namelist():
            content = packed.read(name)
            changed = content.replace(b"Petrel", b"Peregrine")
            other.writestr(name, changed if name == "candidates.jsonl" else content)
    fault = refused(cast, out.getvalue())
    assert (fault["file"], fault["code"]) == ("candidates.jsonl", "damaged")


def test_a_file_that_unpacks_to_too_much_is_not_unpacked(archive, cast):
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(archive)) as packed:
        manifest = packed.read("manifest.json")
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as other:
            for name in packed.namelist():
                if name not in ("manifest.json", "people.jsonl"):
                    other.writestr(name, packed.read(name))
            other.writestr("people.jsonl", b" " * (LARGEST_ROWS + 1))
            other.writestr("manifest.json", manifest)
    assert len(out.getvalue()) < 1_000_000
    fault = refused(cast, out.getvalue())
    assert (fault["file"], fault["code"]) == ("people.jsonl", "too_large")


def row_changed(of: str, **values):
    def change(opened: Opened) -> None:
        opened.rows[of][0].update(values)

    return change


NOBODY = "0190a6b5-0000-7000-8000-000000000000"


# Kind, what its first row says instead, and at which field that is refused with which code.
WRONG: list[tuple[str, dict[str, Any], str, str]] = [
    ("candidates", {"loa_m": "long"}, "loa_m", "invalid"),
    ("candidates", {"loa_m": 2}, "loa_m", "implausible"),
    ("candidates", {"keel": "winged"}, "keel", "invalid_choice"),
    ("candidates", {"name": ""}, "name", "blank"),
    ("candidates", {"name": "x" * 121}, "name", "max_length"),
    ("candidates", {"name": "Pet\u0000rel"}, "", "unreadable"),
    ("candidates", {"links": ["javascript:alert(1)"]}, "links", "invalid"),
    ("candidates", {"sources": {"loa_m": "guessed"}}, "sources", "invalid"),
    ("candidates", {"asking_currency": "ZZZ"}, "asking_currency", "unknown_currency"),
    ("candidates", {"build_year": 1990.5}, "build_year", "invalid"),
    ("candidates", {"colour": "red"}, "colour", "unknown_field"),
    ("candidates", {"id": 5}, "id", "invalid"),
    ("candidates", {"list": NOBODY}, "list", "unknown_reference"),
    ("candidates", {"added_by": NOBODY}, "added_by", "unknown_reference"),
    ("lists", {"exchange_rates": {"EUR": "much"}}, "exchange_rates", "invalid"),
    ("lists", {"budget": 90000.5}, "budget", "invalid"),
    ("prices", {"created_at": "2025-03-01T10:00:00"}, "created_at", "invalid"),
    ("prices", {"amount": "NaN"}, "amount", "invalid"),
    ("prices", {"advert_link": "javascript:alert(1)"}, "advert_link", "invalid"),
    ("findings", {"checkpoint": "no-such"}, "checkpoint", "unknown_code"),
    ("findings", {"level": True}, "level", "invalid"),
    ("findings", {"tags": [{"a": 1}]}, "tags", "invalid"),
    ("quotes", {"remedy": ["x"]}, "remedy", "unknown_code"),
    ("wants", {"subject": "ratio", "key": "", "value": 3}, "key", "required"),
    ("ballots", {"ranks": [[NOBODY]]}, "ranks", "unknown_reference"),
    ("ballots", {"ranks": "all"}, "ranks", "invalid"),
    ("viewings", {"people": [NOBODY]}, "people", "unknown_reference"),
    ("submissions", {"state": "draft", "submitted_at": None}, "state", "a_draft"),
    ("people", {"kind": "robot"}, "", "invalid"),
    ("gates", {"code": "no-such"}, "code", "unknown_code"),
    ("gate_documents", {"gate": "no-such"}, "gate", "unknown_code"),
    ("offers", {"conditions": [{"code": "no-such", "until": None}]}, "conditions", "invalid"),
    ("surveys", {"kind": "no-such"}, "kind", "invalid_choice"),
    ("viewings", {"kind": "no-such"}, "kind", "invalid_choice"),
    ("viewings", {"sails_set": "no-such"}, "sails_set", "invalid_choice"),
    ("viewings", {"sea_state": 99}, "sea_state", "invalid_choice"),
    ("clauses", {"topic": "no-such"}, "topic", "unknown_code"),
    ("handover_items", {"kind": "no-such"}, "kind", "invalid_choice"),
    ("work_decisions", {"remedy": "no-such"}, "remedy", "unknown_code"),
    ("work_decisions", {"choice": "no-such"}, "choice", "invalid_choice"),
    # Held by the database, each by name.
    ("memberships", {"share": "0.5", "buys": False, "role": "helper"}, "", "contradiction"),
    ("findings", {"level": None}, "level", "required"),
    ("candidates", {"latitude": 54.0, "longitude": None}, "", "contradiction"),
]


def test_a_value_that_cannot_stand_is_named(archive, cast, subtests):
    for kind, values, field, code in WRONG:
        with subtests.test(f"{kind} {values}"):
            fault = refused(cast, repacked(archive, row_changed(kind, **values)))
            assert fault["file"] == f"{kind}.jsonl"
            assert (fault["field"], fault["code"]) == (field, code), fault
            assert fault["line"] == (0 if code == "contradiction" else 1)


def test_a_missing_field_is_named(archive, cast):
    fault = refused(cast, repacked(archive, lambda o: o.rows["quotes"][0].pop("firmness")))
    assert (fault["file"], fault["field"], fault["code"]) == ("quotes.jsonl", "firmness", "missing")


def test_rows_named_twice_are_refused(archive, cast):
    twice = repacked(archive, lambda o: o.rows["prices"].append(o.rows["prices"][0]))
    assert refused(cast, twice)["code"] == "named_twice"


def test_nobody_supersedes_what_somebody_else_said(archive, cast):
    def change(opened: Opened) -> None:
        later = next(row for row in opened.rows["submissions"] if row["supersedes"])
        later["author"] = str(cast.ben.person.pk)

    fault = refused(cast, repacked(archive, change))
    assert (fault["field"], fault["code"]) == ("supersedes", "another_one")


def test_all_faults_are_told_at_once(archive, cast):
    def change(opened: Opened) -> None:
        for row in opened.rows["candidates"]:
            row["beam_m"] = -1

    came = imported(cast.ola, repacked(archive, change))
    assert [fault["line"] for fault in came["faults"]] == [1, 2, 3, 4]


# --- What is not as it was -----------------------------------------------------------------------


def test_findings_against_a_wording_that_is_not_here_count_for_the_current_one(archive, cast):
    other = repacked(archive, row_changed("findings", checkpoint_version="0" * 64))
    came = imported(cast.ola, other)
    assert came["state"] == "done"
    code = unpacked(archive).rows["findings"][0]["checkpoint"]
    assert code in came["notes"][0]


def test_a_programs_key_does_not_travel(archive, cast):
    program = {"name": "Gauge", "role": "helper", "scopes": ["findings:write"]}
    assert cast.ola.post(f"/groups/{cast.group.id}/programs", program).status_code == 201
    came = imported(cast.ola, archive_of(cast))
    gauge = Membership.objects.get(group=came["group"], person__name="Gauge")
    assert gauge.ended_at is not None
    assert not gauge.person.is_active
    assert gauge.person.kind == "program"


def test_names_without_an_account_open_nothing(archive, cast):
    imported(cast.sten, archive)
    for person in Person.objects.filter(email__endswith="@placeholder.invalid"):
        assert not person.is_active
        assert not person.has_usable_password()


def test_whoever_waits_is_told_of_a_failed_attempt(archive, cast, monkeypatch):
    def broken(*_):
        raise OSError("no space left")

    with monkeypatch.context() as breaking:
        breaking.setattr(jobs, "Archive", broken)
        came = imported(cast.ola, archive)
    assert (came["state"], came["failing"]) == ("waiting", True)
    Import.objects.update(next_attempt_at=None)
    jobs.import_run(import_id=came["id"])
    came = cast.ola.get(f"/imports/{came['id']}").json()
    assert (came["state"], came["failing"]) == ("done", False)


@pytest.mark.parametrize("what", ["_open", "_save"])
def test_a_storage_that_fails_costs_no_archive(archive, cast, monkeypatch, what):
    """The archive cannot be read, or its pictures cannot be stored."""
    opened = cast.ola.post("/imports").json()
    sent = Client().put(opened["upload"]["url"], archive, content_type="application/zip")
    assert sent.status_code == 204
    there = Group.objects.filter(importing=False)
    groups = there.count()
    with monkeypatch.context() as broken:
        broken.setattr(FileSystemStorage, what, away)
        for _ in range(ASKED.most_attempts + 3):
            Import.objects.update(next_attempt_at=None)
            jobs.import_run(import_id=opened["id"])
    came = cast.ola.get(f"/imports/{opened['id']}").json()
    assert (came["state"], came["faults"]) == ("waiting", [])
    assert came["storage_failing_since"] is not None
    assert (came["group"], there.count()) == (None, groups)
    Import.objects.update(next_attempt_at=None)
    jobs.import_run(import_id=opened["id"])
    came = cast.ola.get(f"/imports/{opened['id']}").json()
    assert (came["state"], came["storage_failing_since"]) == ("done", None)


def away(*args):
    raise ConnectionError("away")


def disk_full(*args):
    raise OSError(errno.ENOSPC, "No space left on device")


@pytest.mark.parametrize(
    ("fails", "refused"), [(away, (503, "storage_unavailable")), (disk_full, (507, "storage_full"))]
)
def test_an_archive_that_cannot_be_kept_is_not_taken(cast, monkeypatch, fails, refused):
    opened = cast.ola.post("/imports").json()
    with monkeypatch.context() as broken:
        broken.setattr(FileSystemStorage, "_save", fails)
        sent = Client().put(opened["upload"]["url"], b"any", content_type="application/zip")
    assert (sent.status_code, sent.json()["code"]) == refused
    assert int(sent["Retry-After"]) > 0
    assert cast.ola.get(f"/imports/{opened['id']}").json()["state"] == "upload"


# --- An operator's way ---------------------------------------------------------------------------


def test_an_operator_brings_it_in_and_everybody_is_recognised(full, cast, tmp_path, capsys):
    file = tmp_path / "tern.zip"
    call_command("export_group", str(cast.group.id), str(file))
    call_command("import_group", str(file), cast.sten.person.email, "--name", "Tern again")
    group = Group.objects.get(name="Tern again")
    assert Membership.objects.filter(group=group, person=cast.ben.person).exists()
    assert Membership.objects.get(group=group, person=cast.sten.person).role == "organiser"
    assert "Added Tern again" in capsys.readouterr().out


def test_an_operator_is_told_what_is_wrong(cast, tmp_path):
    file = tmp_path / "no.zip"
    file.write_bytes(b"no zip")
    with pytest.raises(CommandError, match="no ZIP"):
        call_command("import_group", str(file), cast.ola.person.email)


def test_new_ids_keep_the_order_and_what_draws_are_seeded_by():
    """RFC 9562 section 5.7: 48 bits of time, version 7, variant 0b10."""
    old = sorted(f"0190a6b5-{n % 65536:04x}-7000-8000-{n:012x}" for n in range(10_000))
    made = new_ids(old, timezone.now())
    assert made == sorted(made)
    assert len(set(made)) == len(made)
    assert {one.version for one in made} == {7}
    assert all(
        one.hex[16:] == was.replace("-", "")[16:] for one, was in zip(made, old, strict=True)
    )
    now_ms = timezone.now().timestamp() * 1000
    assert abs((made[0].int >> 80) - now_ms) < 10_000
