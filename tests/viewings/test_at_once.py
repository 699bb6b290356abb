"""Simultaneous requests, on a database with several writers."""

from functools import partial
from uuid import UUID

from django.core.files.uploadhandler import MemoryFileUploadHandler
from django.db import connection
from uuid_utils.compat import uuid7

from apps.events.models import Event
from apps.viewings.media.preparing import sound_prepare
from apps.viewings.models import Photo, Sound, Submission, Viewing
from tests.together import SEVERAL_WRITERS, at_once, statuses_at_once
from tests.viewings.conftest import look
from tests.viewings.media import picture, taps
from tests.viewings.test_batches import item, send, visit

pytestmark = SEVERAL_WRITERS


def test_the_same_submission_is_stored_once(scene):
    for _ in range(5):
        made = str(uuid7())
        same = partial(scene.post, scene.cast.ben, look("joint", 1), id=made)
        assert statuses_at_once(same, same, same) == [200, 200, 201]
        assert Submission.objects.filter(pk=made).count() == 1


def test_of_two_corrections_one_is_refused(scene):
    for _ in range(5):
        first = scene.posted(scene.cast.ben, look("joint", 3))
        correct = partial(scene.post, scene.cast.ben, look("joint", 1), supersedes=first["id"])
        assert statuses_at_once(correct, correct) == [201, 422]


def test_different_writes_to_one_list_wait_for_one_another(scene):
    clearance = {
        "checkpoint": "joint",
        "basis": "repair",
        "level": 0,
        "document": "Invoice",
        "dated_on": "2025-03-20",
    }
    for _ in range(5):
        visit = scene.visit(state="planned")
        before = scene.revision()
        codes = statuses_at_once(
            partial(scene.post, scene.cast.ben, look("joint", 3), viewing=visit),
            partial(scene.post, scene.cast.bea, look("joint", 3), viewing=visit),
            partial(scene.cast.ola.post, f"/candidates/{scene.heron.id}/clearances", clearance),
        )
        assert codes == [201, 201, 201]
        assert scene.revision() == before + 3
    numbers = list(Event.objects.values_list("number", flat=True))
    assert numbers == list(range(1, len(numbers) + 1)), "in commit order and without a gap"


def test_the_same_photo_is_stored_once(scene):
    at = f"/viewings/{scene.viewing.id}/photos"
    for _ in range(5):
        form = {"file": picture(), "id": str(uuid7())}
        send = partial(scene.cast.ben.send_form, at, form)
        assert statuses_at_once(send, send, send) == [200, 200, 201]
        assert Photo.objects.filter(pk=form["id"]).count() == 1


def test_of_two_workers_one_reads_it(scene):
    made = scene.posted(scene.cast.ben, look("joint", 1))
    at = f"/submissions/{made['id']}/sounds"
    for _ in range(5):
        form = {"file": taps(), "checkpoint": "joint"}
        sound = scene.cast.ben.send_form(at, form).json()["id"]
        before = scene.revision()
        at_once(*[partial(sound_prepare, sound_id=UUID(sound))] * 3)
        assert Sound.objects.get(pk=sound).state == "ready"
        assert scene.revision() == before + 1
        assert Event.objects.filter(kind="sound.ready", thing_id=sound).count() == 1


def test_a_form_is_read_before_the_transaction(scene, settings, monkeypatch):
    """A phone on a slow line must not hold up everybody who writes."""
    seen = []

    class Watching(MemoryFileUploadHandler):
        def new_file(self, *args, **kwargs):
            seen.append(connection.in_atomic_block)
            return super().new_file(*args, **kwargs)

    monkeypatch.setattr("tests.viewings.test_at_once.Watching", Watching, raising=False)
    settings.FILE_UPLOAD_HANDLERS = ["tests.viewings.test_at_once.Watching"]
    at = f"/viewings/{scene.viewing.id}/photos"
    assert scene.cast.ben.send_form(at, {"file": picture()}).status_code == 201
    assert seen == [False]


def test_a_batch_that_two_phones_send_at_once_is_stored_once(scene):
    for _ in range(5):
        Viewing.objects.filter(candidate=scene.dunlin).delete()
        new = visit(scene.dunlin)
        batch = [
            item(scene.viewing, look("joint", 1)),
            item(None, look("mainsail", 1), new_viewing=new),
            item(None, look("terminals", 1), new_viewing=new),
        ]
        same = partial(send, scene, *batch)
        assert statuses_at_once(same, same, same) == [207, 207, 207]
        ids = {sent["id"] for sent in batch}
        stored = Submission.objects.filter(pk__in=ids)
        assert stored.count() == 3
        assert {len(submission.findings.all()) for submission in stored} == {1}
        assert Viewing.objects.filter(candidate=scene.dunlin).count() == 1
        assert {result["status"] for result in same().json()["results"]} == {200}
