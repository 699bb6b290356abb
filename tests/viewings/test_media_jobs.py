"""The jobs that read media: safe to repeat, found again when lost, ended when nothing helps."""

from datetime import timedelta
from pathlib import Path
from uuid import UUID

import pytest
from django.core.files.base import ContentFile
from django.utils import timezone

from apps.viewings import tasks
from apps.viewings.media import preparing
from apps.viewings.media.files import file_open, files_sweep, storage
from apps.viewings.media.models import Photo, Sound
from apps.viewings.media.preparing import MOST_ATTEMPTS, media_sweep, photo_prepare
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
    """What is sent to the broker, in place of one."""
    sent = []
    monkeypatch.setattr(
        "apps.viewings.media.preparing.broker.send", lambda task, *args: sent.append((task, *args))
    )
    return sent


def free(photo: Photo) -> None:
    """The lease has run out."""
    Photo.objects.filter(pk=photo.pk).update(leased_until=timezone.now() - timedelta(seconds=1))


def test_sending_tells_a_worker_after_the_commit(
    scene, at, monkeypatch, django_capture_on_commit_callbacks
):
    sent = []
    monkeypatch.setattr(
        "apps.viewings.media.services.broker.send", lambda task, *args: sent.append((task, *args))
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


def test_a_storage_that_is_away_is_tried_again(photo, monkeypatch):
    def away(*args):
        raise ConnectionError("away")

    with monkeypatch.context() as broken:
        broken.setattr(preparing, "file_open", away)
        photo_prepare(photo_id=photo.pk)
    photo.refresh_from_db()
    assert (photo.state, photo.attempts) == ("processing", 1)
    assert photo.leased_until > timezone.now(), "but not at once"
    free(photo)
    photo_prepare(photo_id=photo.pk)
    assert Photo.objects.get().state == "ready"


def test_at_some_time_it_is_given_up(photo):
    storage().delete(photo.key("original"))
    for _ in range(MOST_ATTEMPTS):
        free(photo)
        photo_prepare(photo_id=photo.pk)
    photo.refresh_from_db()
    assert (photo.state, photo.fault) == ("rejected", "gave_up")


def test_a_file_that_kills_its_readers_is_given_up_unread(photo, monkeypatch):
    Photo.objects.update(attempts=MOST_ATTEMPTS)
    monkeypatch.setattr(preparing, "picture_read", None)  # would fail if it were called
    photo_prepare(photo_id=photo.pk)
    photo.refresh_from_db()
    assert (photo.state, photo.fault) == ("rejected", "gave_up")


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
    """With nothing else in it."""
    media = settings.STORAGES["media"]
    options = {**media["OPTIONS"], "location": tmp_path / "media"}
    settings.STORAGES = {**settings.STORAGES, "media": {**media, "OPTIONS": options}}


def test_the_sweep_of_files_removes_what_no_record_needs(folder, scene, at, monkeypatch):
    where, group = f"{at}/photos", str(scene.cast.group.id)
    waiting = scene.cast.ben.send_form(where, {"file": picture()}).json()
    ready, lost = sent_photo(scene.cast.ben, where), sent_photo(scene.cast.ben, where)
    storage().save(f"{group}/archive.zip", ContentFile(b"not one of ours"))
    Photo.objects.filter(pk=lost["id"]).delete()  # its files go at the commit, and here is none
    before = set(storage().listdir(group)[1])
    assert files_sweep() == 0, "a request that still runs may need them"
    assert set(storage().listdir(group)[1]) == before
    monkeypatch.setattr("apps.viewings.media.files.LEFT_ALONE", timedelta(0))
    assert files_sweep() == 4, "of the one that was read only what came, of the lost one all"
    assert set(storage().listdir(group)[1]) == {
        f"{waiting['id']}-original",
        f"{ready['id']}-image.jpg",
        f"{ready['id']}-thumbnail.jpg",
        "archive.zip",
    }


def test_where_nothing_was_ever_kept_there_is_nothing_to_sweep(folder, db):
    assert files_sweep() == 0


def test_files_are_for_the_service_alone(photo):
    path = Path(storage().path(photo.key("original")))
    assert path.stat().st_mode & 0o077 == 0
    assert path.parent.stat().st_mode & 0o077 == 0


def test_what_was_sent_is_kept_as_it_came_until_it_is_read(photo):
    with file_open(photo, "original") as file:
        assert file.read() == picture()
