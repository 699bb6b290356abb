"""Media on an S3-like store: an implementation of S3's interface in memory (moto)."""

import os
import subprocess
import sys
from datetime import timedelta

import pytest
from botocore.client import BaseClient
from botocore.exceptions import EndpointConnectionError
from django.test import Client
from django.utils import timezone

from apps.viewings.media.files import TooManyOrphans, files_remove, files_sweep
from apps.viewings.media.models import OrphanFile, Photo
from apps.viewings.media.preparing import photo_prepare
from tests.viewings.conftest import look
from tests.viewings.media import picture, sent_photo, sent_sound

BUCKET = "boats"


@pytest.fixture
def bucket(settings):
    import boto3  # it and the next load slowly
    from moto import mock_aws

    with mock_aws():
        client = boto3.client(
            "s3", region_name="us-east-1", aws_access_key_id="x", aws_secret_access_key="x"
        )
        client.create_bucket(Bucket=BUCKET)
        options = {
            "bucket_name": BUCKET,
            "region_name": "us-east-1",
            "access_key": "x",
            "secret_key": "x",
            "default_acl": None,
            "file_overwrite": True,
        }
        media = {"BACKEND": "storages.backends.s3.S3Storage", "OPTIONS": options}
        settings.STORAGES = {**settings.STORAGES, "media": media}
        yield lambda: {
            row["Key"] for row in client.list_objects_v2(Bucket=BUCKET).get("Contents", ())
        }


def test_it_works(scene, bucket, django_capture_on_commit_callbacks):
    made = scene.posted(scene.cast.ben, look("joint", 3))
    at = f"/submissions/{made['id']}"
    with django_capture_on_commit_callbacks(execute=True):
        photo = sent_photo(scene.cast.ben, f"{at}/photos", {"file": picture("HEIF")})
        sound = sent_sound(scene.cast.ben, f"{at}/sounds")
    assert (photo["state"], sound["state"]) == ("ready", "ready")
    stored = Photo.objects.get()
    assert {stored.key("image"), stored.key("thumbnail")} < bucket()
    assert len(bucket()) == 3, "what came is gone"
    answer = Client().get(photo["image"])
    assert (answer.status_code, answer["Content-Type"]) == (200, "image/jpeg")
    assert b"".join(answer.streaming_content).startswith(b"\xff\xd8\xff")
    with django_capture_on_commit_callbacks(execute=True):
        assert scene.cast.ben.change("DELETE", f"/photos/{photo['id']}").status_code == 204
    assert len(bucket()) == 1


def test_a_file_that_is_gone_is_not_found(scene, bucket):
    photo = sent_photo(scene.cast.ben, f"/viewings/{scene.viewing.id}/photos")
    files_remove([Photo.objects.get().key("image")])
    assert Client().get(photo["image"]).status_code == 404


def test_the_sweep_of_files_finds_what_is_left_behind(scene, bucket):
    at = f"/viewings/{scene.viewing.id}/photos"
    for _ in range(3):
        photo = sent_photo(scene.cast.ben, at)
        files_remove(Photo.objects.get(pk=photo["id"]).surplus_keys)
    lost = sent_photo(scene.cast.ben, at)
    Photo.objects.filter(pk=lost["id"]).delete()
    before = bucket()
    assert files_sweep() == 0
    OrphanFile.objects.update(found_at=timezone.now() - timedelta(days=31))
    assert files_sweep() == 3
    assert bucket() == {key for key in before if lost["id"] not in key}
    Photo.objects.all().delete()
    files_sweep()
    OrphanFile.objects.update(found_at=timezone.now() - timedelta(days=31))
    with pytest.raises(TooManyOrphans):
        files_sweep()
    assert len(bucket()) == 6, "an empty database costs no file"


@pytest.mark.parametrize("what", ["GetObject", "PutObject"])
def test_a_bucket_that_is_away_holds_a_photo_up(scene, bucket, monkeypatch, what):
    made = scene.cast.ben.send_form(f"/viewings/{scene.viewing.id}/photos", {"file": picture()})
    photo = Photo.objects.get(pk=made.json()["id"])
    original = next(iter(bucket()))
    asked = BaseClient._make_api_call

    def answer(client, operation, arguments):
        if operation in (what, what.replace("Get", "Head")):
            raise EndpointConnectionError(endpoint_url="https://store.example.org")
        return asked(client, operation, arguments)

    with monkeypatch.context() as broken:
        broken.setattr(BaseClient, "_make_api_call", answer)
        for _ in range(8):
            Photo.objects.update(next_attempt_at=None)
            photo_prepare(photo_id=photo.pk)
    photo.refresh_from_db()
    assert (photo.state, photo.fault, photo.attempts) == ("processing", "", 0)
    assert photo.storage_failing_since is not None
    assert original in bucket()
    Photo.objects.update(next_attempt_at=None)
    photo_prepare(photo_id=photo.pk)
    photo.refresh_from_db()
    assert (photo.state, photo.storage_failing_since) == ("ready", None)


def test_a_bucket_that_is_away_takes_no_photo(scene, bucket, monkeypatch):
    asked = BaseClient._make_api_call

    def answer(client, operation, arguments):
        if operation == "PutObject":
            raise EndpointConnectionError(endpoint_url="https://store.example.org")
        return asked(client, operation, arguments)

    at = f"/viewings/{scene.viewing.id}/photos"
    with monkeypatch.context() as broken:
        broken.setattr(BaseClient, "_make_api_call", answer)
        refused = scene.cast.ben.send_form(at, {"file": picture()})
    assert (refused.status_code, refused.json()["code"]) == (503, "storage_unavailable")
    assert int(refused["Retry-After"]) > 0
    assert not Photo.objects.exists()
    assert scene.cast.ben.send_form(at, {"file": picture()}).status_code == 201


SAY_WHICH = """
import django
django.setup()
from django.core.files.storage import storages
store = storages["media"]
print(type(store).__name__, store.bucket_name, store.endpoint_url)
"""


def test_settings_name_the_store():
    """Read in a process of its own, as the service does."""
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "server.settings",
        "MEDIA_STORAGE": "s3",
        "MEDIA_S3_BUCKET": BUCKET,
        "MEDIA_S3_ENDPOINT": "https://store.example.org",
    }
    said = subprocess.run(
        [sys.executable, "-c", SAY_WHICH],
        env=environment,
        capture_output=True,
        text=True,
        check=True,
    )
    assert said.stdout.split() == ["S3Storage", BUCKET, "https://store.example.org"]
