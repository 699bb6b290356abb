"""Documents that show what a gate asks: pictures of papers without metadata, and PDFs as sent."""

import errno
import io
import json
from datetime import timedelta
from uuid import UUID

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from PIL import Image
from pypdf import PdfReader
from uuid_utils.compat import uuid7

from apps.boats.list_models import CandidateList
from apps.events.models import Event
from apps.records.models import RecordEntry
from apps.viewings.media import adding, files
from apps.viewings.media.document_models import GateDocument
from apps.viewings.media.files import storage
from apps.viewings.media.pdf import pdf_read
from apps.viewings.media.preparing import gate_document_prepare
from apps.viewings.media.reading import Unreadable
from tests.conftest import Speaker, pointers
from tests.viewings.media import DEVICE, PLACE, exif, paper, picture, sent_gate_document


@pytest.fixture
def at(scene) -> str:
    return f"/candidates/{scene.heron.pk}/gate-documents"


def send(who: Speaker, at: str, **fields):
    return who.send_form(at, {"file": picture(), "gate": "debts", **fields})


def behind(address: str) -> tuple[bytes, dict]:
    answer = Client().get(address)
    assert answer.status_code == 200, answer.content
    return b"".join(answer.streaming_content), answer.headers


def test_it_works(scene, at):
    made = send(scene.cast.ben, at, note="Extract of 12 May")
    assert made.status_code == 201, made.content
    said = made.json()
    assert (said["state"], said["gate"], said["kept_as"]) == ("processing", "debts", "image")
    assert (said["image"], said["pdf"]) == (None, None)
    gate_document_prepare(document_id=UUID(said["id"]))
    ready = scene.cast.ivy.get(f"/gate-documents/{said['id']}").json()
    assert (ready["state"], ready["note"], ready["pdf"]) == ("ready", "Extract of 12 May", None)
    assert ready["added_by"]["name"] == "Ben"
    for form in ("image", "thumbnail"):
        content, _ = behind(ready[form])
        assert Image.open(io.BytesIO(content)).format == "JPEG"
    (row,) = scene.cast.ivy.get(at).json()["results"]
    assert row["id"] == said["id"]
    assert len(scene.cast.ivy.get(f"{at}?gate=debts").json()["results"]) == 1
    assert scene.cast.ivy.get(f"{at}?gate=title").json()["results"] == []


def test_a_pdf_is_kept_as_it_came(scene, at, django_capture_on_commit_callbacks):
    content = paper(Author="A. Seller")
    with django_capture_on_commit_callbacks(execute=True):
        said = sent_gate_document(scene.cast.ben, scene.heron.pk, {"file": content})
    assert (said["state"], said["kept_as"]) == ("ready", "pdf")
    assert (said["image"], said["thumbnail"]) == (None, None)
    kept, _ = behind(said["pdf"])
    assert kept == content
    # Read back by a general-purpose library: its own data stay in it, and the guide says so.
    assert PdfReader(io.BytesIO(kept)).metadata.author == "A. Seller"
    assert not storage().exists(GateDocument.objects.get().key("original"))


def test_a_file_is_for_download_and_never_a_page(scene, at):
    for file, kind, form in (
        (paper(), "application/pdf", "pdf"),
        (picture(), "image/jpeg", "image"),
    ):
        said = sent_gate_document(scene.cast.ben, scene.heron.pk, {"file": file})
        _, headers = behind(said[form])
        assert headers["Content-Disposition"].startswith("attachment; filename=")
        assert headers["Content-Type"] == kind
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert "sandbox" in headers["Content-Security-Policy"]


def test_place_and_device_are_gone_from_a_picture(scene, at):
    content = picture(exif=exif().tobytes())
    assert DEVICE.encode() in content
    said = sent_gate_document(scene.cast.ben, scene.heron.pk, {"file": content})
    for form in ("image", "thumbnail"):
        shown, _ = behind(said[form])
        assert DEVICE.encode() not in shown
        assert PLACE.encode() not in shown


@pytest.mark.parametrize(
    "content",
    [
        b"<html><script>alert(1)</script></html>",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"\n%PDF-1.7\n%%EOF",
        b"PK\x03\x04 a table",
        b"",
    ],
)
def test_what_the_bytes_say_decides(scene, at, content):
    """Not the name, nor the type that the sender gives it."""
    refused = send(scene.cast.ben, at, file=content)
    assert pointers(refused) == {"/file"}
    assert not GateDocument.objects.exists()


def test_half_a_pdf_is_rejected(scene, at):
    said = sent_gate_document(scene.cast.ben, scene.heron.pk, {"file": paper()[:-1200]})
    assert (said["state"], said["fault"]["code"], said["pdf"]) == ("rejected", "damaged", None)
    with pytest.raises(Unreadable):
        pdf_read(io.BytesIO(picture()))


def test_it_is_no_evidence_and_settles_nothing(scene, at):
    scene.cast.ben.put(f"/candidates/{scene.heron.pk}/gates/debts", {})
    revision = CandidateList.objects.get(pk=scene.list.pk).inputs_revision
    sent_gate_document(scene.cast.ben, scene.heron.pk)
    assert CandidateList.objects.get(pk=scene.list.pk).inputs_revision == revision
    gate = scene.cast.ben.get(f"/candidates/{scene.heron.pk}/gates/debts").json()
    assert gate["settled"] is False


def test_the_record_has_what_came_and_went(scene, at):
    said = sent_gate_document(scene.cast.ben, scene.heron.pk, {"note": "Extract"})
    scene.cast.ben.change("DELETE", f"/gate-documents/{said['id']}")
    words = [json.loads(one.text)["words"] for one in RecordEntry.objects.order_by("number")][-2:]
    assert words == [
        "Before buying, “Debts on her”: a document was attached. Extract",
        "Before buying, “Debts on her”: a document was removed.",
    ]


def test_a_task_reads_it_and_the_sweep_finds_lost_ones(
    scene, at, monkeypatch, django_capture_on_commit_callbacks
):
    asked = []
    monkeypatch.setattr(adding.broker, "send", lambda *args: asked.append(args))
    with django_capture_on_commit_callbacks(execute=True):
        said = send(scene.cast.ben, at, file=paper()).json()
    from apps.viewings import tasks
    from apps.viewings.media import preparing

    assert asked == [(tasks.prepare_gate_document.name, said["id"])]
    monkeypatch.setattr(preparing.broker, "send", lambda *args: asked.append(args))
    GateDocument.objects.update(created_at=timezone.now() - timedelta(hours=1))
    preparing.media_sweep()
    assert asked[1:] == asked[:1]
    tasks.prepare_gate_document(said["id"])
    assert GateDocument.objects.get().state == "ready"


def test_a_backup_takes_it_and_the_sweep_of_files_leaves_it(scene, at):
    sent_gate_document(scene.cast.ben, scene.heron.pk, {"file": paper()})
    document = GateDocument.objects.get()
    assert list(files.keys_required()) == [document.key("pdf")]
    files.files_sweep()
    assert storage().exists(document.key("pdf"))


def test_a_repeat_is_the_same_document(scene, at):
    own = str(uuid7())
    assert send(scene.cast.ben, at, id=own).status_code == 201
    assert send(scene.cast.ben, at, id=own).status_code == 200
    assert GateDocument.objects.count() == 1
    other = send(scene.cast.ben, at, id=own, gate="title")
    assert (other.status_code, other.json()["code"]) == (409, "id_taken")


def test_bad_fields_are_named(scene, at):
    sent = send(scene.cast.ben, at, gate="nonsense", note="x" * 301, source="advert")
    assert pointers(sent) == {"/gate", "/note", "/source"}
    assert pointers(scene.cast.ben.get(f"{at}?gate=nonsense")) == {"?gate"}
    assert not GateDocument.objects.exists()


def test_there_is_a_limit(scene, at, monkeypatch, settings):
    monkeypatch.setattr(adding, "MOST_TO_ONE", 1)
    assert send(scene.cast.ben, at).status_code == 201
    late = send(scene.cast.ben, at)
    assert (late.status_code, late.json()["code"]) == (409, "too_many")
    monkeypatch.setattr(adding, "MOST_TO_ONE", 2)
    settings.DOCUMENT_LARGEST_BYTES = 100
    assert pointers(send(scene.cast.ben, at, file=paper()[:200])) == {"/file"}
    assert send(scene.cast.ben, at, file=b"x" * 200_000).status_code == 413


@pytest.mark.parametrize(("number", "status"), [(errno.ENOSPC, 507), (errno.EIO, 503)])
def test_a_full_or_broken_disk_keeps_nothing(scene, at, monkeypatch, number, status):
    def fails(*args, **kwargs):
        raise OSError(number, "the disk")

    monkeypatch.setattr(type(storage()), "save", fails)
    assert send(scene.cast.ben, at).status_code == status
    assert not GateDocument.objects.exists()


def test_strangers_see_nothing(scene, at):
    said = sent_gate_document(scene.cast.ben, scene.heron.pk)
    one = f"/gate-documents/{said['id']}"
    for who in (scene.cast.wim, scene.cast.sten):
        assert send(who, at).status_code == 404
        assert who.get(at).status_code == 404
        assert who.get(one).status_code == 404
        assert who.delete(one, If_Match='"x"').status_code == 404
    assert scene.cast.nobody.get(at).status_code == 401
    assert GateDocument.objects.count() == 1


def test_observers_and_helpers_look_and_add_nothing(scene, at):
    said = sent_gate_document(scene.cast.ben, scene.heron.pk)
    for who in (scene.cast.ivy, scene.cast.hal):
        assert send(who, at).status_code == 403
        assert who.get(f"/gate-documents/{said['id']}").status_code == 200
        assert who.change("DELETE", f"/gate-documents/{said['id']}").status_code == 403


def test_whoever_added_it_removes_it_or_an_organiser(scene, at, django_capture_on_commit_callbacks):
    cast = scene.cast
    first = sent_gate_document(cast.ben, scene.heron.pk)
    second = sent_gate_document(cast.ben, scene.heron.pk, {"file": paper()})
    assert cast.bea.change("DELETE", f"/gate-documents/{first['id']}").status_code == 403
    stale = cast.ben.delete(f"/gate-documents/{first['id']}", If_Match='"old"')
    assert stale.status_code == 412
    keys = [one.key(form) for one in GateDocument.objects.all() for form in one.forms_made]
    with django_capture_on_commit_callbacks(execute=True):
        assert cast.ben.change("DELETE", f"/gate-documents/{first['id']}").status_code == 204
        assert cast.ola.change("DELETE", f"/gate-documents/{second['id']}").status_code == 204
    assert not [key for key in keys if storage().exists(key)]
    assert Client().get(first["image"]).status_code == 404
    kinds = Event.objects.filter(thing="gate_document").order_by("number")
    assert [one.kind.partition(".")[2] for one in kinds] == [
        *("added", "ready") * 2,
        *("removed",) * 2,
    ]


def test_a_link_ends_with_the_membership(scene, at):
    said = sent_gate_document(scene.cast.ben, scene.heron.pk, {"file": paper()})
    scene.cast.group.memberships.filter(person=scene.cast.ben.person).update(
        ended_at=timezone.now()
    )
    assert Client().get(said["pdf"]).status_code == 404


def test_one_takes_as_many_queries_as_many(scene, at):
    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert scene.cast.bea.get(at).status_code == 200
        return len(counted)

    sent_gate_document(scene.cast.ben, scene.heron.pk)
    queries()  # the first one also notes when her token was used
    one = queries()
    for file in (picture(), paper(), paper()):
        sent_gate_document(scene.cast.ben, scene.heron.pk, {"file": file})
    assert queries() == one
