"""Exports: who may ask and download, the content, and the expiry."""

from datetime import datetime

import pytest
from django.core.files.storage import FileSystemStorage
from django.test import Client
from django.utils import timezone

from apps.accounts.models import Token
from apps.archives import jobs
from apps.archives.collecting import group_collect
from apps.archives.files import file_open
from apps.archives.kinds import KINDS, NEVER_TAKEN, NOT_TAKEN
from apps.archives.models import Export
from apps.archives.services import MOST_UNFINISHED
from apps.events.models import Event
from apps.groups.models import Membership
from apps.jobs.backoff import ASKED
from apps.viewings.media.models import Photo
from apps.viewings.media.preparing import photo_prepare
from tests.archives.conftest import archive_of, exported, fetched, unpacked
from tests.conftest import speaker
from tests.system.world import world_made
from tests.viewings.conftest import files, scene  # noqa: F401


@pytest.fixture
def path(cast) -> str:
    return f"/groups/{cast.group.id}/exports"


def test_it_works(cast, path):
    asked = cast.ola.post(path)
    assert asked.status_code == 201, asked.content
    assert (asked.json()["state"], asked.json()["download"]) == ("waiting", None)
    assert Event.objects.get(kind="export.asked").thing_id == Export.objects.get().pk
    jobs.export_make(export_id=asked.json()["id"])
    ready = cast.ola.get(f"/exports/{asked.json()['id']}").json()
    assert ready["state"] == "ready"
    content = fetched(ready)
    assert len(content) == ready["size_bytes"]
    assert unpacked(content).manifest["subject"]["name"] == "Tern"
    assert [row["id"] for row in cast.ola.get(path).json()["results"]] == [ready["id"]]


def test_who_may(cast, path):
    at = f"/exports/{exported(cast.ola, path)['id']}"
    for who, status in (
        (cast.nobody, 401),
        (cast.wim, 404),
        (cast.sten, 404),
        (cast.ben, 403),
        (cast.ivy, 403),
    ):
        assert who.post(path).status_code == status
        assert who.get(path).status_code == status
        assert who.get(at).status_code == status


def test_a_repeat_asks_once(cast, path):
    first = cast.ola.post(path, Idempotency_Key="once")
    assert cast.ola.post(path, Idempotency_Key="once").json() == first.json()
    assert Export.objects.count() == 1


def test_not_more_than_a_worker_can_do(cast, path):
    for _ in range(MOST_UNFINISHED):
        assert cast.ola.post(path).status_code == 201
    assert cast.ola.post(path).json()["code"] == "still_waiting"


# --- The link ------------------------------------------------------------------------------------


def test_the_file_is_private_and_not_kept_by_others(cast, path):
    answer = Client().get(exported(cast.ola, path)["download"]["url"])
    assert answer["Content-Type"] == "application/zip"
    assert answer["Cache-Control"] == "private, no-store"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Disposition"].startswith("attachment")
    b"".join(answer.streaming_content)


def test_a_link_that_was_tampered_with_opens_nothing(cast, path):
    url = exported(cast.ola, path)["download"]["url"]
    assert Client().get(url[:-2] + "xx").status_code == 404
    own = exported(cast.wim, "/people/me/exports")
    upload = cast.wim.post("/imports").json()["upload"]["url"]
    token = upload.rpartition("/")[2]
    download = own["download"]["url"].rpartition("/")[0]
    assert Client().get(f"{download}/{token}").status_code == 404


def test_a_link_expires_before_the_file(cast, path, settings, monkeypatch):
    download = exported(cast.ola, path)["download"]
    ends = datetime.fromisoformat(download["expires_at"])
    lifetime = settings.ARCHIVE_LINK_LIFETIME
    assert lifetime < ends - timezone.now() <= 2 * lifetime
    monkeypatch.setattr("apps.archives.links.time.time", ends.timestamp)
    assert Client().get(download["url"]).status_code == 404


def test_a_link_closes_with_the_office_of_whoever_asked(cast, path):
    url = exported(cast.ola, path)["download"]["url"]
    Membership.objects.filter(person=cast.ola.person).update(role="buyer")
    assert Client().get(url).status_code == 404


def test_a_link_ends_with_the_session_in_which_it_was_given(cast, path):
    url = exported(cast.ola, path)["download"]["url"]
    upload = cast.ola.post("/imports").json()["upload"]["url"]
    Token.objects.filter(person=cast.ola.person).update(revoked_at=timezone.now())
    assert Client().get(url).status_code == 404
    assert Client().put(upload, b"zip").status_code == 404


def test_another_organiser_sees_that_it_was_asked_for_but_gets_no_link(cast, path):
    """What an archive holds is what its asker may see."""
    export = exported(cast.ola, path)
    Membership.objects.filter(person=cast.ben.person).update(role="organiser")
    shown = cast.ben.get(f"/exports/{export['id']}").json()
    assert (shown["state"], shown["download"]) == ("ready", None)


def test_the_file_goes_when_its_time_is_over(cast, path):
    export = exported(cast.ola, path)
    Export.objects.update(expires_at=timezone.now())
    assert Client().get(export["download"]["url"]).status_code == 404
    jobs.sweep()
    assert cast.ola.get(f"/exports/{export['id']}").json()["state"] == "expired"
    with pytest.raises(FileNotFoundError):
        file_open(Export.objects.get().key)


# --- The job -------------------------------------------------------------------------------------


def test_what_was_lost_is_sent_again(cast, path, monkeypatch):
    sent = []
    monkeypatch.setattr(jobs.broker, "send", lambda *message: sent.append(message))
    asked = cast.ola.post(path).json()
    jobs.sweep()
    assert sent == [("apps.archives.tasks.make_export", asked["id"])]


def test_a_failure_is_tried_again_and_given_up_in_the_end(cast, path, monkeypatch):
    def broken(*_):
        raise OSError("no space left")

    monkeypatch.setattr(jobs, "archive_write", broken)
    asked = cast.ola.post(path).json()
    for _ in range(ASKED.most_attempts):
        assert Export.objects.get().state == "waiting"
        Export.objects.update(next_attempt_at=None)
        jobs.export_make(export_id=asked["id"])
        made = Export.objects.get()
        assert made.state == "failed" or made.next_attempt_at > timezone.now()  # not at once again
        assert cast.ola.get(f"/exports/{asked['id']}").json()["failing"] is True
    assert cast.ola.get(f"/exports/{asked['id']}").json()["state"] == "failed"


@pytest.mark.parametrize("what", ["_open", "_save"])
def test_a_storage_that_fails_is_no_failure(full, cast, path, monkeypatch, what):
    """Pictures cannot be read, or the archive cannot be kept: it goes on when they can."""
    for photo in Photo.objects.all():
        photo_prepare(photo_id=photo.pk)
    asked = cast.ola.post(path).json()
    with monkeypatch.context() as broken:
        broken.setattr(FileSystemStorage, what, away)
        for _ in range(ASKED.most_attempts + 3):
            Export.objects.update(next_attempt_at=None)
            jobs.export_make(export_id=asked["id"])
    shown = cast.ola.get(f"/exports/{asked['id']}").json()
    assert (shown["state"], shown["failing"]) == ("waiting", True)
    assert shown["storage_failing_since"] is not None
    Export.objects.update(next_attempt_at=None)
    jobs.export_make(export_id=asked["id"])
    shown = cast.ola.get(f"/exports/{asked['id']}").json()
    assert (shown["state"], shown["failing"]) == ("ready", False)
    assert shown["storage_failing_since"] is None
    with monkeypatch.context() as broken:
        broken.setattr(FileSystemStorage, "_open", away)
        answer = Client().get(shown["download"]["url"])
    assert (answer.status_code, answer.json()["code"]) == (503, "storage_unavailable")


def away(*args):
    raise ConnectionError("away")


def test_what_was_made_after_a_failure_says_nothing_of_it(cast, path):
    asked = cast.ola.post(path).json()
    assert asked["failing"] is False
    Export.objects.update(failing_since=timezone.now())
    jobs.export_make(export_id=asked["id"])
    made = cast.ola.get(f"/exports/{asked['id']}").json()
    assert (made["state"], made["failing"]) == ("ready", False)


def test_somebody_who_may_no_more_gets_nothing(cast, path):
    asked = cast.ola.post(path).json()
    Membership.objects.filter(person=cast.ola.person).update(ended_at=timezone.now())
    jobs.export_make(export_id=asked["id"])
    assert Export.objects.get().state == "failed"


@pytest.mark.django_db(transaction=True)
def test_it_is_read_at_one_moment(cast, path):
    """Outside any other transaction, where PostgreSQL is asked for a snapshot."""
    asked = cast.ola.post(path).json()
    jobs.export_make(export_id=asked["id"])
    assert cast.ola.get(f"/exports/{asked['id']}").json()["counts"]["memberships"] == 5


# --- What is in it -------------------------------------------------------------------------------


def test_every_field_of_every_record_is_taken_or_left_on_purpose():
    for kind in KINDS:
        meta = kind.model._meta
        there = {field.name for field in (*meta.local_concrete_fields, *meta.local_many_to_many)}
        left = {*NOT_TAKEN.get(kind.model, ()), *NEVER_TAKEN}
        if "group" in kind.fields:
            left.discard("group")
        assert there - left == set(kind.fields), kind.name
        assert set(NOT_TAKEN.get(kind.model, ())) <= there


def test_nothing_of_another_group_is_in_it(cast, scene):  # noqa: F811
    """Two groups have the same things, each with its own word in every text."""
    una = speaker("Una")
    Membership.objects.create(group=cast.other_group, person=una.person, role="buyer")
    here = world_made("Ternword", cast.group, cast.ola, cast.ben)
    there = world_made("Skuaword", cast.other_group, cast.wim, una)
    for content in (
        archive_of(cast),
        fetched(exported(cast.ola, "/people/me/exports")),
    ):
        opened = unpacked(content)
        said = repr((opened.manifest, opened.rows))
        assert "Ternword" in said
        assert [word for word in there.words - set(here.ids.values()) if word in said] == []


def test_members_emails_and_keys_are_not_in_it(full, cast):
    rows = unpacked(archive_of(cast)).rows
    chained = ("ledgers", "ledger_entries", "records", "record_entries")
    for entry in (entry for name in chained for entry in rows[name]):
        del entry["digest"]  # of what was entered, and no secret
        entry.pop("text_digest", None)
    said = repr(rows)
    for who in (cast.ola, cast.ben, cast.bea):
        assert who.person.email not in said
    for secret in ("digest':", "password", "hst_"):
        assert secret not in said.replace("email_digest':", "")


def test_what_is_hidden_from_the_organiser_is_left_out_and_counted(spring, cast):
    """Ola gave no valuation, no ballot and no call, and the list's opinions are not open."""
    spring.yard.ballot(cast.bea.person, [spring.petrel])
    archive = unpacked(archive_of(cast))
    assert archive.rows["valuations"] == archive.rows["ballots"] == []
    assert [row for row in archive.rows["submissions"] if row["vote"]] == []
    assert archive.manifest["left_out"] == {
        "valuations": 6,
        "ballots": 1,
        "votes": 1,
        "record_texts": 1,
    }
    withheld = [row for row in archive.rows["record_entries"] if not row["text"]]
    assert [(row["kind"], row["by"], len(row["text_digest"])) for row in withheld] == [
        ("", None, 64)
    ]

    spring.yard.valuation(spring.petrel, cast.ola.person, 80_000)
    archive = unpacked(archive_of(cast))
    assert {row["candidate"] for row in archive.rows["valuations"]} == {str(spring.petrel.pk)}

    cast.ola.change("PATCH", spring.path, {"opinions_open": True})
    archive = unpacked(archive_of(cast))
    assert archive.manifest["left_out"] == {}
    assert len(archive.rows["valuations"]) == 7


def test_drafts_are_their_authors_alone(full, cast):
    viewing = cast.hal.get(f"/candidates/{full.petrel.pk}/viewings").json()["results"][0]["id"]
    draft = {"note": "Not sure yet", "findings": []}
    assert cast.hal.post(f"/viewings/{viewing}/submissions", draft).status_code == 201
    group = unpacked(archive_of(cast))
    assert "Not sure yet" not in repr(group.rows)
    assert group.manifest["left_out"] == {"submissions": 1}
    own = unpacked(fetched(exported(cast.hal, "/people/me/exports")))
    assert "Not sure yet" in repr(own.rows)


def test_a_persons_own_data_are_all_of_theirs_and_nobody_elses(full, cast):
    export = exported(cast.hal, "/people/me/exports")
    assert export["group"] is None
    own = unpacked(fetched(export))
    assert own.manifest["of"] == "person"
    (account,) = own.rows["people"]
    assert (account["name"], account["email"]) == ("Hal", "hal@example.org")
    assert {row["author"] for row in own.rows["submissions"]} == {str(cast.hal.person.pk)}
    assert len(own.rows["photos"]) == len(own.rows["sounds"]) == 1
    assert len(own.files) == 2
    assert own.rows["valuations"] == own.rows["ballots"] == own.rows["quotes"] == []
    assert {row["person"] for row in own.rows["memberships"]} == {str(cast.hal.person.pk)}
    assert own.rows["tokens"][0]["kind"] == "session"
    assert "Ben" not in repr(own.rows)


def test_what_was_left_behind_in_a_group_is_still_ones_own(full, cast):
    Membership.objects.filter(person=cast.hal.person).update(ended_at=timezone.now())
    own = unpacked(fetched(exported(cast.hal, "/people/me/exports")))
    assert len(own.rows["submissions"]) > 0


def test_ones_own_archive_is_nobody_elses(cast):
    export = exported(cast.ben, "/people/me/exports")
    assert cast.ola.get(f"/exports/{export['id']}").status_code == 404
    assert cast.ola.get("/people/me/exports").json()["results"] == []
    assert cast.nobody.post("/people/me/exports").status_code == 401


def test_more_rows_take_no_more_queries(full, cast, django_assert_max_num_queries):
    """A few for each kind, and a few for the people: whatever there is."""
    with django_assert_max_num_queries(3 * len(KINDS)):
        group_collect(cast.group, cast.ola.person)
