"""Photos from a boat's seller: kept apart from what people saw, and no evidence."""

import io
from datetime import timedelta
from uuid import UUID

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from PIL import Image
from uuid_utils.compat import uuid7

from apps.appraisal.jobs import list_recompute
from apps.boats.list_models import CandidateList
from apps.events.models import Event
from apps.viewings.media import adding
from apps.viewings.media.files import storage
from apps.viewings.media.models import SellerPhoto
from apps.viewings.media.preparing import seller_photo_prepare
from tests.conftest import Speaker, pointers
from tests.viewings.media import DEVICE, PLACE, exif, picture, sent_seller_photo


@pytest.fixture
def at(scene) -> str:
    return f"/candidates/{scene.heron.pk}/seller-photos"


def send(who: Speaker, at: str, **fields):
    return who.send_form(at, {"file": picture(), "source": "advert", **fields})


def behind(address: str) -> bytes:
    answer = Client().get(address)
    assert answer.status_code == 200, answer.content
    return b"".join(answer.streaming_content)


def test_it_works(scene, at):
    ben = scene.cast.ben
    made = send(ben, at, source="broker", dated_on="2025-02-01", note="The saloon")
    assert made.status_code == 201, made.content
    said = made.json()
    assert (said["state"], said["image"], said["candidate"]) == (
        "processing",
        None,
        str(scene.heron.pk),
    )
    seller_photo_prepare(photo_id=UUID(said["id"]))
    ready = scene.cast.ivy.get(f"/seller-photos/{said['id']}").json()
    assert (ready["state"], ready["source"], ready["dated_on"], ready["note"]) == (
        "ready",
        "broker",
        "2025-02-01",
        "The saloon",
    )
    assert ready["added_by"]["name"] == "Ben"
    assert (ready["width"], ready["height"]) == (160, 120)
    for form in ("image", "thumbnail"):
        assert Image.open(io.BytesIO(behind(ready[form]))).format == "JPEG"
    (row,) = scene.cast.ivy.get(at).json()["results"]
    assert row["id"] == said["id"]


def test_it_is_apart_from_what_people_saw(scene, at):
    sent_seller_photo(scene.cast.ben, scene.heron.pk)
    assert scene.cast.ben.get(f"/candidates/{scene.heron.pk}/photos").json()["results"] == []


def test_it_is_no_evidence(scene, at):
    """Nothing is recomputed, and no result changes."""
    list_recompute(list_id=scene.list.pk)
    board = f"/lists/{scene.list.pk}/board"
    before = scene.cast.ben.get(board).json()
    revision = CandidateList.objects.get(pk=scene.list.pk).inputs_revision
    photo = sent_seller_photo(scene.cast.ben, scene.heron.pk)
    scene.cast.ben.change("DELETE", f"/seller-photos/{photo['id']}")
    assert CandidateList.objects.get(pk=scene.list.pk).inputs_revision == revision
    assert scene.cast.ben.get(board).json() == before


def test_place_and_device_are_gone(scene, at, django_capture_on_commit_callbacks):
    content = picture(exif=exif().tobytes())
    assert DEVICE.encode() in content
    with django_capture_on_commit_callbacks(execute=True):
        ready = sent_seller_photo(scene.cast.ben, scene.heron.pk, {"file": content})
    for form in ("image", "thumbnail"):
        shown = behind(ready[form])
        assert DEVICE.encode() not in shown
        assert PLACE.encode() not in shown
        assert dict(Image.open(io.BytesIO(shown)).getexif()) == {}
    assert not storage().exists(SellerPhoto.objects.get().key("original"))


def test_a_task_reads_it_and_the_sweep_finds_lost_ones(
    scene, at, monkeypatch, django_capture_on_commit_callbacks
):
    asked = []
    monkeypatch.setattr(adding.broker, "send", lambda *args: asked.append(args))
    with django_capture_on_commit_callbacks(execute=True):
        photo = send(scene.cast.ben, at).json()
    assert asked == [("apps.viewings.tasks.prepare_seller_photo", photo["id"])]
    from apps.viewings import tasks
    from apps.viewings.media import preparing

    assert tasks.prepare_seller_photo.name == asked[0][0]
    monkeypatch.setattr(preparing.broker, "send", lambda *args: asked.append(args))
    SellerPhoto.objects.update(created_at=timezone.now() - timedelta(hours=1))
    preparing.media_sweep()
    assert asked[1:] == asked[:1]
    tasks.prepare_seller_photo(photo["id"])
    assert SellerPhoto.objects.get().state == "ready"


def test_a_repeat_is_the_same_photo(scene, at):
    own = str(uuid7())
    assert send(scene.cast.ben, at, id=own).status_code == 201
    assert send(scene.cast.ben, at, id=own).status_code == 200
    assert SellerPhoto.objects.count() == 1
    other = send(scene.cast.ben, at, id=own, source="seller")
    assert (other.status_code, other.json()["code"]) == (409, "id_taken")


@pytest.mark.parametrize(
    ("fields", "at_fields"),
    [
        ({"source": "a friend"}, {"/source"}),
        ({"dated_on": "2999-01-01"}, {"/dated_on"}),
        ({"file": b"no picture"}, {"/file"}),
        ({"note": "x" * 301, "viewing": "1"}, {"/note", "/viewing"}),
    ],
)
def test_bad_fields_are_named(scene, at, fields, at_fields):
    assert pointers(send(scene.cast.ben, at, **fields)) == at_fields
    assert not SellerPhoto.objects.exists()


def test_the_day_is_today_if_nobody_says(scene, at):
    assert send(scene.cast.ben, at).json()["dated_on"] == timezone.now().date().isoformat()


def test_there_is_a_limit(scene, at, monkeypatch):
    monkeypatch.setattr(adding, "MOST_TO_ONE", 1)
    assert send(scene.cast.ben, at).status_code == 201
    late = send(scene.cast.ben, at)
    assert (late.status_code, late.json()["code"]) == (409, "too_many")


def test_strangers_see_nothing(scene, at):
    photo = sent_seller_photo(scene.cast.ben, scene.heron.pk)
    one = f"/seller-photos/{photo['id']}"
    for who in (scene.cast.wim, scene.cast.sten):
        assert send(who, at).status_code == 404
        assert who.get(at).status_code == 404
        assert who.get(one).status_code == 404
        assert who.delete(one, If_Match='"x"').status_code == 404
    assert scene.cast.nobody.get(at).status_code == 401
    assert SellerPhoto.objects.count() == 1


def test_observers_and_helpers_look_and_add_nothing(scene, at):
    photo = sent_seller_photo(scene.cast.ben, scene.heron.pk)
    for who in (scene.cast.ivy, scene.cast.hal):
        assert send(who, at).status_code == 403
        assert who.get(f"/seller-photos/{photo['id']}").status_code == 200
        assert who.change("DELETE", f"/seller-photos/{photo['id']}").status_code == 403


def test_whoever_added_it_removes_it_or_an_organiser(scene, at, django_capture_on_commit_callbacks):
    cast = scene.cast
    first = sent_seller_photo(cast.ben, scene.heron.pk)
    second = sent_seller_photo(cast.ben, scene.heron.pk)
    assert cast.bea.change("DELETE", f"/seller-photos/{first['id']}").status_code == 403
    stale = cast.ben.delete(f"/seller-photos/{first['id']}", If_Match='"old"')
    assert stale.status_code == 412
    keys = [photo.key("image") for photo in SellerPhoto.objects.all()]
    with django_capture_on_commit_callbacks(execute=True):
        assert cast.ben.change("DELETE", f"/seller-photos/{first['id']}").status_code == 204
        assert cast.ola.change("DELETE", f"/seller-photos/{second['id']}").status_code == 204
    assert not [key for key in keys if storage().exists(key)]
    assert Client().get(first["image"]).status_code == 404
    kinds = Event.objects.filter(thing="seller_photo").order_by("number")
    assert [one.kind.partition(".")[2] for one in kinds] == [
        *("added", "ready") * 2,
        *("removed",) * 2,
    ]


def test_a_link_ends_with_the_membership(scene, at):
    photo = sent_seller_photo(scene.cast.ben, scene.heron.pk)
    scene.cast.group.memberships.filter(person=scene.cast.ben.person).update(
        ended_at=timezone.now()
    )
    assert Client().get(photo["image"]).status_code == 404


def test_one_takes_as_many_queries_as_many(scene, at):
    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert scene.cast.bea.get(at).status_code == 200
        return len(counted)

    sent_seller_photo(scene.cast.ben, scene.heron.pk)
    queries()  # the first one also notes when her token was used
    one = queries()
    for _ in range(4):
        sent_seller_photo(scene.cast.ben, scene.heron.pk)
    assert queries() == one
