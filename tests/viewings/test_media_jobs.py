"""The jobs that read media: repeatable, recovered when lost, ended after several failures."""

import errno
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace
from uuid import UUID

import pytest
from celery.schedules import crontab
from django.core.files import File
from django.core.files.base import ContentFile
from django.core.files.uploadhandler import MemoryFileUploadHandler, TemporaryFileUploadHandler
from django.core.management import CommandError, call_command
from django.db import OperationalError
from django.test import Client
from django.utils import timezone
from uuid_utils.compat import uuid7

from apps.jobs.backoff import ASKED
from apps.viewings import tasks
from apps.viewings.media import pictures, preparing
from apps.viewings.media.files import (
    TooManyOrphans,
    file_open,
    files_remove,
    files_sweep,
    storage,
)
from apps.viewings.media.models import OrphanFile, Photo, Sound
from apps.viewings.media.preparing import media_sweep, photo_prepare
from server.celery import app
from server.embedded import EmbeddedWorker
from tests.viewings.conftest import look
from tests.viewings.media import picture, sent_photo, taps


@pytest.fixture
def at(scene):
    made = scene.posted(scene.cast.ben, look("joint", 3))
    return f"/submissions/{made['id']}"


@pytest.fixture
def photo(scene, at):
    """Sent, and not read yet."""
    made = scene.cast.ben.send_form(f"{at}/photos", {"file": picture()}).json()
    return Photo.objects.get(pk=made["id"])


@pytest.fixture
def messages(monkeypatch):
    """The messages that are sent to the broker, without one."""
    sent = []
    monkeypatch.setattr(
        "apps.viewings.media.preparing.broker.send", lambda task, *args: sent.append((task, *args))
    )
    return sent


def free(photo: Photo) -> None:
    """End the lease and make the next attempt due."""
    past = timezone.now() - timedelta(seconds=1)
    Photo.objects.filter(pk=photo.pk).update(leased_until=past, next_attempt_at=past)


def test_sending_tells_a_worker_after_the_commit(
    scene, at, monkeypatch, django_capture_on_commit_callbacks
):
    sent = []
    monkeypatch.setattr(
        "apps.viewings.media.adding.broker.send", lambda task, *args: sent.append((task, *args))
    )
    with django_capture_on_commit_callbacks(execute=True) as callbacks:
        photo = scene.cast.ben.send_form(f"{at}/photos", {"file": picture()}).json()
        form = {"file": taps(), "checkpoint": "joint"}
        sound = scene.cast.ben.send_form(f"{at}/sounds", form).json()
        assert sent == []
    assert callbacks
    assert sent == [
        ("apps.viewings.tasks.prepare_photo", photo["id"]),
        ("apps.viewings.tasks.prepare_sound", sound["id"]),
    ]


def test_the_tasks_named_are_there(scene, at):
    photo = scene.cast.ben.send_form(f"{at}/photos", {"file": picture()}).json()
    form = {"file": taps(), "checkpoint": "joint"}
    sound = scene.cast.ben.send_form(f"{at}/sounds", form).json()
    assert tasks.prepare_photo.name == "apps.viewings.tasks.prepare_photo"
    tasks.prepare_photo(photo["id"])
    assert tasks.prepare_sound.name == "apps.viewings.tasks.prepare_sound"
    tasks.prepare_sound(sound["id"])
    assert Photo.objects.get().state == "ready"
    assert Sound.objects.get().state == "ready"


def test_a_second_message_does_nothing(photo):
    photo_prepare(photo_id=photo.pk)
    done = Photo.objects.values().get()
    photo_prepare(photo_id=photo.pk)
    assert Photo.objects.values().get() == done
    photo_prepare(photo_id=UUID(int=7))  # nor does one about nothing


def test_what_somebody_works_on_is_left_alone(photo):
    until = timezone.now() + timedelta(minutes=1)
    Photo.objects.update(leased_until=until)
    photo_prepare(photo_id=photo.pk)
    photo.refresh_from_db()
    assert (photo.state, photo.attempts, photo.leased_until) == ("processing", 0, until)


def test_whoever_dies_before_storing_leaves_it_to_the_next(photo, monkeypatch):
    class Killed(BaseException):
        pass

    def die(*args, **kwargs):
        raise Killed

    with monkeypatch.context() as dying:
        dying.setattr(preparing, "_store", die)
        with pytest.raises(Killed):
            photo_prepare(photo_id=photo.pk)
    assert storage().exists(photo.key("image")), "it got as far as that"
    photo_prepare(photo_id=photo.pk)
    assert Photo.objects.get().state == "processing", "the lease still runs"
    free(photo)
    photo_prepare(photo_id=photo.pk)
    assert Photo.objects.get().state == "ready"
    assert len(storage().listdir(str(photo.group_id))[1]) >= 2


def test_a_twin_that_comes_late_changes_nothing(photo):
    photo_prepare(photo_id=photo.pk)
    version = Photo.objects.get().version
    preparing._store(photo, state="rejected", fault="damaged")
    stored = Photo.objects.get()
    assert (stored.state, stored.version) == ("ready", version)


def test_what_was_removed_meanwhile_stays_removed(photo, monkeypatch):
    monkeypatch.setattr(preparing, "picture_read", removing(preparing.picture_read))
    photo_prepare(photo_id=photo.pk)
    assert not Photo.objects.exists()


def removing(read):
    def read_and_lose(file):
        Photo.objects.all().delete()
        return read(file)

    return read_and_lose


def away(*args):
    raise ConnectionError("away")


def disk_full(*args):
    raise OSError(errno.ENOSPC, "No space left on device")


@pytest.mark.parametrize(
    ("method", "fails"), [("open", away), ("save", disk_full)], ids=["away", "disk full"]
)
def test_a_storage_that_fails_is_tried_again_and_loses_nothing(photo, monkeypatch, method, fails):
    """For days: an acknowledged file stays until it is ready; its state says since when."""
    with monkeypatch.context() as broken:
        broken.setattr(type(storage()), method, lambda self, *args: fails())
        for _ in range(3 * ASKED.most_attempts):
            free(photo)
            photo_prepare(photo_id=photo.pk)
    photo.refresh_from_db()
    assert (photo.state, photo.attempts, photo.fault) == ("processing", 0, "")
    assert photo.storage_failing_since is not None
    assert photo.next_attempt_at > timezone.now(), "but not at once"
    assert storage().exists(photo.key("original"))
    free(photo)
    photo_prepare(photo_id=photo.pk)
    photo.refresh_from_db()
    assert (photo.state, photo.storage_failing_since) == ("ready", None)


def test_the_answer_says_since_when_the_storage_fails(scene, photo, monkeypatch):
    at = f"/photos/{photo.pk}"
    before = scene.cast.ben.get(at)
    assert before.json()["storage_failing_since"] is None
    with monkeypatch.context() as broken:
        broken.setattr(type(storage()), "open", lambda self, *args: away())
        photo_prepare(photo_id=photo.pk)
    after = scene.cast.ben.get(at, If_None_Match=before["ETag"])
    assert after.status_code == 200
    assert after.json()["storage_failing_since"]
    assert after.json()["state"] == "processing"


def test_waits_grow_with_the_time_that_the_storage_fails(photo, monkeypatch):
    monkeypatch.setattr(type(storage()), "open", lambda self, *args: away())
    waits = []
    for ago in (timedelta(0), timedelta(minutes=5), timedelta(days=3)):
        Photo.objects.update(storage_failing_since=timezone.now() - ago, next_attempt_at=None)
        photo_prepare(photo_id=photo.pk)
        waits.append((Photo.objects.get().next_attempt_at - timezone.now()).total_seconds())
    assert waits == pytest.approx([10, 300, 3600], abs=5)


def test_an_original_that_stays_away_for_a_month_is_given_up(photo):
    """It may be restored later than its record; after that it is lost."""
    storage().delete(photo.key("original"))
    for _ in range(ASKED.most_attempts + 1):
        free(photo)
        photo_prepare(photo_id=photo.pk)
    photo.refresh_from_db()
    assert photo.state == "processing"
    Photo.objects.update(storage_failing_since=timezone.now() - timedelta(days=31))
    free(photo)
    photo_prepare(photo_id=photo.pk)
    photo.refresh_from_db()
    assert (photo.state, photo.fault) == ("rejected", "gave_up")


def test_a_file_that_kills_its_readers_is_given_up_unread(photo, monkeypatch):
    Photo.objects.update(attempts=ASKED.most_attempts)
    monkeypatch.setattr(preparing, "picture_read", None)  # would fail if it were called
    photo_prepare(photo_id=photo.pk)
    photo.refresh_from_db()
    assert (photo.state, photo.fault) == ("rejected", "gave_up")
    assert storage().exists(photo.key("original")), "the reason may not lie in the file"


def test_workers_that_die_of_a_storage_that_hangs_count_against_nobody(photo, monkeypatch):
    """A worker that waits for too long is killed."""

    class Killed(BaseException):
        pass

    def hang(*args, **kwargs):
        raise Killed

    for what in ("open", "save"):
        with monkeypatch.context() as hanging:
            hanging.setattr(type(storage()), what, hang)
            for _ in range(ASKED.most_attempts + 1):
                free(photo)
                with pytest.raises(Killed):
                    photo_prepare(photo_id=photo.pk)
    free(photo)
    photo_prepare(photo_id=photo.pk)
    assert Photo.objects.get().state == "ready"


def test_a_database_that_is_away_is_not_the_files_fault_either(photo, monkeypatch):
    def locked(*args, **kwargs):
        raise OperationalError("database is locked")

    with monkeypatch.context() as broken:
        broken.setattr(preparing, "_store", locked)
        for _ in range(ASKED.most_attempts + 1):
            free(photo)
            with pytest.raises(OperationalError):
                photo_prepare(photo_id=photo.pk)
    free(photo)
    photo_prepare(photo_id=photo.pk)
    assert Photo.objects.get().state == "ready"


def test_half_a_file_from_the_storage_is_never_taken_for_a_damaged_one(photo, monkeypatch):
    """To a decoder, a connection that breaks while it reads looks like the end of the picture."""

    class Breaking(ContentFile):
        def read(self, *args):
            raise ConnectionError("reset")

    with monkeypatch.context() as broken:
        broken.setattr(type(storage()), "open", lambda *_: Breaking(picture()[:200]))
        photo_prepare(photo_id=photo.pk)
    assert Photo.objects.get().state == "processing"


def test_a_machine_without_memory_says_nothing_of_the_file(photo, monkeypatch):
    def failing(image, side):
        raise MemoryError

    with monkeypatch.context() as broken:
        broken.setattr(pictures, "_fresh", failing)
        photo_prepare(photo_id=photo.pk)
    assert Photo.objects.get().state == "processing"


@pytest.mark.parametrize(
    ("fails", "status", "code"),
    [(away, 503, "storage_unavailable"), (disk_full, 507, "storage_full")],
    ids=["away", "disk full"],
)
def test_what_cannot_be_kept_is_not_acknowledged(scene, at, monkeypatch, fails, status, code):
    """RFC 4918, section 11.5: 507 (Insufficient Storage). The same request later succeeds."""
    written = File.chunks

    def half(file, *args):
        yield next(written(file, *args))[:100]
        fails()

    photo = {"file": picture(), "id": str(uuid7())}
    with monkeypatch.context() as broken:
        broken.setattr(File, "chunks", half)
        answer = scene.cast.ben.send_form(f"{at}/photos", photo, Idempotency_Key="once")
    assert (answer.status_code, answer.json()["code"]) == (status, code)
    assert int(answer["Retry-After"]) > 0
    assert not Photo.objects.exists()
    assert not storage().exists(f"{scene.cast.group.id}/{photo['id']}-original"), "nor a part"
    again = scene.cast.ben.send_form(f"{at}/photos", photo, Idempotency_Key="once")
    assert again.status_code == 201, again.content
    photo_prepare(photo_id=UUID(photo["id"]))
    assert Photo.objects.get().state == "ready"


def test_a_form_for_which_there_is_no_room_is_refused_alike(scene, at, monkeypatch):
    """A large form is written to a temporary file before anything else."""
    monkeypatch.setattr(TemporaryFileUploadHandler, "receive_data_chunk", disk_full)
    monkeypatch.setattr(MemoryFileUploadHandler, "receive_data_chunk", disk_full)
    answer = scene.cast.ben.send_form(f"{at}/photos", {"file": picture()})
    assert (answer.status_code, answer.json()["code"]) == (507, "storage_full")
    assert not Photo.objects.exists()


def test_a_link_while_the_storage_is_away(scene, at, monkeypatch):
    photo = sent_photo(scene.cast.ben, f"{at}/photos")
    monkeypatch.setattr(type(storage()), "open", lambda self, *args: away())
    answer = Client().get(photo["image"])
    assert (answer.status_code, answer.json()["code"]) == (503, "storage_unavailable")
    assert int(answer["Retry-After"]) > 0


def test_the_sweep_finds_what_no_worker_heard_of(scene, at, photo, messages):
    read = sent_photo(scene.cast.ben, f"{at}/photos")
    busy = scene.cast.ben.send_form(f"{at}/photos", {"file": picture()}).json()
    Photo.objects.filter(pk=busy["id"]).update(leased_until=timezone.now() + timedelta(minutes=1))
    form = {"file": taps(), "checkpoint": "joint"}
    sound = scene.cast.ben.send_form(f"{at}/sounds", form).json()
    media_sweep()
    assert messages == [
        ("apps.viewings.tasks.prepare_photo", str(photo.pk)),
        ("apps.viewings.tasks.prepare_sound", sound["id"]),
    ]
    assert read["state"] == "ready"


# --- Files that nobody needs ---------------------------------------------------------------------


@pytest.fixture
def folder(settings, tmp_path):
    """An empty media folder."""
    media = settings.STORAGES["media"]
    options = {**media["OPTIONS"], "location": tmp_path / "media"}
    settings.STORAGES = {**settings.STORAGES, "media": {**media, "OPTIONS": options}}


def test_the_sweep_of_files_removes_what_no_record_needs(folder, scene, at):
    where, group = f"{at}/photos", str(scene.cast.group.id)
    others = {name for _ in range(3) for name in kept_photo(scene, where)}
    waiting = scene.cast.ben.send_form(where, {"file": picture()}).json()
    ready, lost = sent_photo(scene.cast.ben, where), sent_photo(scene.cast.ben, where)
    storage().save(f"{group}/archive.zip", ContentFile(b"not one of ours"))
    Photo.objects.filter(pk=lost["id"]).delete()  # its files go at the commit, and here is none
    before = set(storage().listdir(group)[1])
    assert files_sweep() == 0, "a request that still runs, or a restore, may need them"
    assert set(storage().listdir(group)[1]) == before
    quarantine_ends()
    assert files_sweep() == 4, "of the one that was read only what came, of the lost one all"
    assert set(storage().listdir(group)[1]) == {
        *others,
        f"{waiting['id']}-original",
        f"{ready['id']}-image.jpg",
        f"{ready['id']}-thumbnail.jpg",
        "archive.zip",
    }


def kept_photo(scene, where: str) -> list[str]:
    """A ready photo and its file names; the original was deleted at the commit."""
    photo = Photo.objects.get(pk=sent_photo(scene.cast.ben, where)["id"])
    files_remove(photo.surplus_keys)
    return [photo.key(form).rpartition("/")[2] for form in photo.forms_kept]


def quarantine_ends():
    OrphanFile.objects.update(found_at=timezone.now() - timedelta(days=31))


def test_a_file_whose_record_comes_back_is_kept(folder, scene, at):
    """A database that is restored after its files."""
    kept = sent_photo(scene.cast.ben, f"{at}/photos")
    record = Photo.objects.get(pk=kept["id"])
    Photo.objects.filter(pk=kept["id"]).delete()
    files_sweep()
    quarantine_ends()
    record.save(force_insert=True)
    files_sweep()
    assert storage().exists(record.key("image"))
    assert not OrphanFile.objects.filter(key=record.key("image")).exists()


def test_half_of_a_few_files_are_too_many_too(folder, scene, at, caplog):
    """A restore in the wrong order, of a group that has no more than five files."""
    group = str(scene.cast.group.id)
    for n in range(5):
        storage().save(f"{group}/{uuid7()}-image{n}.jpg", ContentFile(b"a picture"))
    files_sweep()
    assert "5 of 5 files of photos and sounds have no record" in caplog.text, "said at once"
    quarantine_ends()
    with pytest.raises(TooManyOrphans, match="5 of 5 files"):
        files_sweep()
    assert len(storage().listdir(group)[1]) == 5


def test_the_sweep_refuses_to_take_many_at_once(folder, scene, at, caplog, capsys):
    """With an empty database every file is without a record: 5 files were gone in 15 seconds."""
    group = str(scene.cast.group.id)
    for n in range(25):
        storage().save(f"{group}/{uuid7()}-image{n}.jpg", ContentFile(b"a picture"))
    files_sweep()
    quarantine_ends()
    with pytest.raises(TooManyOrphans, match="25 of 25 files"):
        files_sweep()
    assert len(storage().listdir(group)[1]) == 25
    tasks.sweep_files()
    assert "the sweep of files refused" in caplog.text
    with pytest.raises(CommandError, match="Nothing was removed"):
        call_command("sweep_media_files")
    call_command("sweep_media_files", however_many=True)
    assert "25 files removed" in capsys.readouterr().out
    assert storage().listdir(group)[1] == []


def test_the_sweep_of_files_does_not_run_at_a_start():
    """Neither in the embedded worker, which starts the others at once, nor in a beat that missed
    its time."""
    entry = app.conf.beat_schedule["sweep media files"]
    assert isinstance(entry["schedule"], crontab)
    assert app.conf.beat_cron_starting_deadline == 60
    sent = []
    worker = EmbeddedWorker(app)
    worker.app = SimpleNamespace(
        conf=app.conf, loader=app.loader, send_task=lambda task, args: sent.append(task)
    )
    worker._beat = SimpleNamespace(start=lambda: None)
    worker._set_up = dict
    worker._give_signs = lambda: None
    worker.start()
    assert "apps.viewings.tasks.sweep_media" in sent
    assert "apps.viewings.tasks.sweep_files" not in sent


def test_where_nothing_was_ever_kept_there_is_nothing_to_sweep(folder, db):
    assert files_sweep() == 0


def test_files_are_for_the_service_alone(photo):
    path = Path(storage().path(photo.key("original")))
    assert path.stat().st_mode & 0o077 == 0
    assert path.parent.stat().st_mode & 0o077 == 0


def test_what_was_sent_is_kept_as_it_came_until_it_is_read(photo):
    with file_open(photo, "original") as file:
        assert file.read() == picture()
