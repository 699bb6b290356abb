"""Pictures with findings: sent, read by a job, shown, removed."""

import io
from datetime import timedelta
from uuid import UUID

import numpy as np
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from PIL import Image
from uuid_utils.compat import uuid7

from apps.accounts.models import Person, Program, Token
from apps.events.models import Event
from apps.groups.models import GroupProgram, Membership
from apps.viewings.media.files import storage
from apps.viewings.media.models import Photo
from apps.viewings.media.preparing import photo_prepare
from apps.viewings.models import Submission, Viewing
from tests.accounts.oauth import gauge, with_password
from tests.conftest import Speaker, pointers
from tests.system.walk import with_token
from tests.viewings.conftest import could_not, look
from tests.viewings.media import DEVICE, PLACE, exif, picture, sent_photo


@pytest.fixture
def bens(scene):
    return scene.posted(scene.cast.ben, look("joint", 3), could_not("mainsail", "covered"))


@pytest.fixture
def at(bens):
    return f"/submissions/{bens['id']}/photos"


def send(who, path, content, **fields):
    """Post a form with this file; None leaves it out."""
    file = {} if content is None else {"file": content}
    return who.send_form(path, {**file, **fields})


def shown_file(address: str) -> bytes:
    """The file behind the link, without signing in."""
    answer = Client().get(address)
    assert answer.status_code == 200, answer.content
    return b"".join(answer.streaming_content)


def opened(address: str) -> Image.Image:
    return Image.open(io.BytesIO(shown_file(address)))


def test_it_works(scene, bens, at):
    cast = scene.cast
    made = send(cast.ben, at, picture(size=(800, 600)), checkpoint="joint", note="From astern.")
    assert made.status_code == 201, made.content
    said = made.json()
    assert (said["state"], said["image"], said["thumbnail"]) == ("processing", None, None)
    assert (said["submission"], said["viewing"]) == (bens["id"], str(scene.viewing.id))
    assert (said["checkpoint"], said["note"]) == ("joint", "From astern.")
    assert (said["added_by"]["name"], said["client"]["kind"]) == ("Ben", "session")
    assert said["candidate"] == str(scene.heron.id)

    photo_prepare(photo_id=UUID(said["id"]))
    ready = cast.ivy.get(f"/photos/{said['id']}").json()
    assert (ready["state"], ready["fault"]) == ("ready", None)
    assert (ready["width"], ready["height"]) == (800, 600)
    image, thumbnail = opened(ready["image"]), opened(ready["thumbnail"])
    assert (image.format, image.size) == ("JPEG", (800, 600))
    assert (thumbnail.format, thumbnail.size) == ("JPEG", (400, 300))


# --- What becomes of the file -------------------------------------------------------------------


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_every_format_becomes_a_plain_jpeg(scene, at, form):
    ready = sent_photo(scene.cast.ben, at, {"file": picture(form)})
    assert ready["state"] == "ready", ready
    image = opened(ready["image"])
    assert (image.format, image.mode, image.size) == ("JPEG", "RGB", (160, 120))
    red, _, blue = image.getpixel((80, 20))
    assert red > 180 > 80 > blue, "the picture is the one that was sent"


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_place_and_device_are_gone(scene, at, form, django_capture_on_commit_callbacks):
    with_comment = {"comment": PLACE.encode()} if form == "JPEG" else {}
    content = picture(form, exif=exif().tobytes(), **with_comment)
    assert DEVICE.encode() in content
    with django_capture_on_commit_callbacks(execute=True):
        ready = sent_photo(scene.cast.ben, at, {"file": content})
    for address in (ready["image"], ready["thumbnail"]):
        shown = shown_file(address)
        assert DEVICE.encode() not in shown
        assert PLACE.encode() not in shown
        image = Image.open(io.BytesIO(shown))
        assert dict(image.getexif()) == {}
        assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density",
                                   "progressive", "progression"}  # fmt: skip
    photo = Photo.objects.get()
    assert not storage().exists(photo.key("original")), "nor is it kept as it came"
    assert PLACE not in str(ready)


def test_a_colour_profile_is_worked_in_and_gone(scene, at):
    from PIL import ImageCms

    lab = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    ready = sent_photo(scene.cast.ben, at, {"file": picture(icc_profile=lab)})
    image = opened(ready["image"])
    assert "icc_profile" not in image.info
    assert image.getpixel((80, 20))[0] > 180


def test_a_broken_colour_profile_costs_nothing(scene, at):
    said = sent_photo(scene.cast.ben, at, {"file": picture(icc_profile=b"rubbish")})
    assert said["state"] == "ready"


@pytest.mark.parametrize(
    ("orientation", "size"),
    [(1, (160, 120)), (3, (160, 120)), (6, (120, 160)), (8, (120, 160))],
)
def test_it_is_turned_upright(scene, at, orientation, size):
    """Sent lying on its side, as the camera held it, with a tag that says so."""
    turned = {1: None, 3: 180, 6: 90, 8: 270}[orientation]
    upright = Image.open(io.BytesIO(picture(size=(240, 320) if size == (120, 160) else (320, 240))))
    lying = upright.rotate(turned, expand=True) if turned else upright
    file = io.BytesIO()
    lying.save(file, "JPEG", exif=exif(orientation=orientation).tobytes())
    image = opened(sent_photo(scene.cast.ben, at, {"file": file.getvalue()})["image"])
    assert image.size == upright.size
    width, height = image.size
    assert image.getpixel((width // 2, height // 8))[0] > 180, "red is up"
    assert image.getpixel((width // 2, height - height // 8))[2] > 180, "blue is down"


def test_what_is_transparent_turns_white(scene, at):
    file = io.BytesIO()
    Image.new("RGBA", (60, 40), (0, 0, 0, 0)).save(file, "PNG")
    image = opened(sent_photo(scene.cast.ben, at, {"file": file.getvalue()})["image"])
    assert min(image.getpixel((30, 20))) > 250


def test_large_ones_are_made_smaller(scene, at):
    ready = sent_photo(scene.cast.ben, at, {"file": picture(size=(5000, 2500))})
    assert (ready["width"], ready["height"]) == (3000, 1500)
    assert opened(ready["thumbnail"]).size == (400, 200)


def test_when_it_was_taken_is_read_if_the_camera_says_by_which_clock(scene, at):
    ready = sent_photo(scene.cast.ben, at, {"file": picture(exif=exif().tobytes())})
    assert ready["taken_at"] == "2025-03-01T08:20:30Z"
    for unsure in ({0x9011: "rubbish"}, {0x9003: "2999:01:01 00:00:00"}):
        tags = exif()
        tags.get_ifd(0x8769).update(unsure)
        unsaid = sent_photo(scene.cast.ben, at, {"file": picture(exif=tags.tobytes())})
        assert unsaid["taken_at"] is None


# --- What is refused ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"not a picture",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"%!PS-Adobe-3.0 EPSF-3.0",
        b"GIF89a" + bytes(40),
        b"RIFF\x24\0\0\0WAVEfmt ",
    ],
)
def test_what_is_no_picture_is_refused(scene, at, content):
    answer = send(scene.cast.ben, at, content)
    assert pointers(answer) == {"/file"}
    assert not Photo.objects.exists()


def test_a_file_is_needed(scene, at):
    assert pointers(send(scene.cast.ben, at, None)) == {"/file"}
    assert pointers(send(scene.cast.ben, at, None, file="text")) == {"/file"}


@pytest.mark.parametrize("media_type", ["multipart/form-data", "application/json", ""])
def test_nothing_at_all_is_refused_with_a_key_too(scene, at, media_type):
    answer = Client().generic(
        "POST",
        f"/api/v1{at}",
        content_type=media_type,
        headers={"Authorization": f"Bearer {scene.cast.ben.secret}", "Idempotency-Key": "one"},
    )
    assert answer.status_code in (400, 415, 422)
    assert answer["Content-Type"] == "application/problem+json"


def test_what_is_too_large_is_refused_before_it_is_read(scene, at, settings):
    settings.PHOTO_LARGEST_BYTES = 100
    answer = send(scene.cast.ben, at, picture())
    assert pointers(answer) == {"/file"}
    answer = send(scene.cast.ben, at, picture() + bytes(70_000))
    assert (answer.status_code, answer.json()["code"]) == (413, "too_large")


def test_faults_of_the_form_point_to_its_fields(scene, at):
    answer = send(scene.cast.ben, at, picture(), checkpoint="iron")
    assert pointers(answer) == {"/checkpoint"}
    answer = send(scene.cast.ben, at, picture(), note="x" * 301, id="1", colour="red")
    assert pointers(answer) == {"/note", "/id", "/colour"}


def test_only_a_form_is_read(scene, at):
    answer = scene.cast.ben.post(at, {"file": "x"})
    assert (answer.status_code, answer.json()["code"]) == (415, "unsupported_media_type")
    broken = Client().generic(
        "POST",
        f"/api/v1{at}",
        b"--x\r\nno form",
        content_type="multipart/form-data",
        headers={"Authorization": f"Bearer {scene.cast.ben.secret}"},
    )
    assert broken.status_code == 400
    assert broken["Content-Type"] == "application/problem+json"


# --- What the job refuses ------------------------------------------------------------------------


def bomb(width: int, height: int) -> bytes:
    file = io.BytesIO()
    Image.new("1", (width, height)).save(file, "PNG", optimize=True)
    return file.getvalue()


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (picture()[:-400], "damaged"),
        (picture("PNG")[:60], "damaged"),
        (picture("WEBP")[:40], "damaged"),
        (picture("HEIF")[:200], "damaged"),
        (bomb(8000, 6000), "too_many_pixels"),
        (bomb(14000, 13500), "too_many_pixels"),
    ],
    ids=["jpeg", "png", "webp", "heif", "large", "bomb"],
)
def test_what_cannot_be_read_is_rejected_with_a_reason(
    scene, at, content, fault, django_capture_on_commit_callbacks
):
    assert len(content) < 100_000
    with django_capture_on_commit_callbacks(execute=True):
        said = sent_photo(scene.cast.ben, at, {"file": content})
    assert (said["state"], said["fault"]["code"], said["image"]) == ("rejected", fault, None)
    assert said["fault"]["detail"]
    photo = Photo.objects.get()
    assert not [f for f in photo.FORMS if storage().exists(photo.key(f))], "nothing of it is kept"


# --- Where they are listed -----------------------------------------------------------------------


def test_the_submission_and_its_findings_name_them(scene, bens, at):
    cast = scene.cast
    of_joint = sent_photo(cast.ben, at, {"checkpoint": "joint"})
    of_all = send(cast.ben, at, picture()).json()
    said = cast.bea.get(f"/submissions/{bens['id']}").json()
    assert said["photos"] == [
        {"id": of_joint["id"], "checkpoint": "joint", "state": "ready"},
        {"id": of_all["id"], "checkpoint": None, "state": "processing"},
    ]
    findings = {finding["checkpoint"]: finding for finding in said["findings"]}
    assert findings["joint"]["photos"] == [of_joint["id"]]
    assert findings["mainsail"]["photos"] == []


def test_a_submission_held_is_old_once_a_picture_came(scene, bens, at):
    where = f"/submissions/{bens['id']}"
    held = scene.cast.bea.get(where)["ETag"]
    assert scene.cast.bea.get(where, If_None_Match=held).status_code == 304
    sent_photo(scene.cast.ben, at)
    assert scene.cast.bea.get(where, If_None_Match=held).status_code == 200


def test_a_picture_does_not_hinder_changing_the_draft(scene):
    draft = scene.posted(scene.cast.ben, look("joint", 3), state="draft")
    where = f"/submissions/{draft['id']}"
    held = scene.cast.ben.get(where)["ETag"]
    sent_photo(scene.cast.ben, f"{where}/photos", {"checkpoint": "joint"})
    body = {"state": "submitted", "findings": [look("joint", 2)]}
    done = scene.cast.ben.put(where, body, If_Match=held)
    assert done.status_code == 200, done.content
    assert len(done.json()["findings"][0]["photos"]) == 1, "it goes with the finding as it is now"


def test_lists_of_submission_visit_and_boat(scene, bens, at):
    cast = scene.cast
    visit = f"/viewings/{scene.viewing.id}/photos"
    one = sent_photo(cast.ben, at, {"checkpoint": "joint"})
    two = sent_photo(cast.ben, at)
    three = sent_photo(cast.hal, visit)
    elsewhere = sent_photo(cast.hal, f"/viewings/{scene.visit().id}/photos")

    def ids(path):
        return [row["id"] for row in cast.ivy.get(path).json()["results"]]

    assert ids(at) == [one["id"], two["id"]]
    assert ids(f"{at}?checkpoint=joint") == [one["id"]]
    assert ids(visit) == [one["id"], two["id"], three["id"]]
    boat = f"/candidates/{scene.heron.id}/photos"
    assert ids(boat) == [each["id"] for each in (one, two, three, elsewhere)]
    assert ids(f"{boat}?checkpoint=joint") == [one["id"]]
    assert ids(f"/candidates/{scene.dunlin.id}/photos") == []


@pytest.mark.parametrize("of", ["submissions", "viewings", "candidates"])
def test_one_takes_as_many_queries_as_many(scene, bens, at, of):
    where = {
        "submissions": at,
        "viewings": f"/viewings/{scene.viewing.id}/photos",
        "candidates": f"/candidates/{scene.heron.id}/photos",
    }[of]

    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert scene.cast.bea.get(where).status_code == 200
        return len(counted)

    sent_photo(scene.cast.ben, at, {"checkpoint": "joint"})
    queries()  # the first one also notes when her token was used
    one = queries()
    for _ in range(6):
        send(scene.cast.ben, at, picture())
        send(scene.cast.hal, f"/viewings/{scene.viewing.id}/photos", picture())
    assert queries() == one


def test_submissions_are_listed_in_as_many_queries_with_pictures(scene, bens, at):
    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            scene.cast.bea.get(f"/viewings/{scene.viewing.id}/submissions")
        return len(counted)

    queries()
    without = queries()
    for n in range(3):
        other = scene.posted(scene.cast.hal, look("joint", n), look("iron", n))
        send(scene.cast.hal, f"/submissions/{other['id']}/photos", picture(), checkpoint="iron")
    assert queries() == without


# --- Who may -------------------------------------------------------------------------------------


def test_strangers_see_nothing(scene, bens, at):
    photo = sent_photo(scene.cast.ben, at)
    visit = f"/viewings/{scene.viewing.id}/photos"
    for who in (scene.cast.wim, scene.cast.sten):
        assert send(who, at, picture()).status_code == 404
        assert send(who, visit, picture()).status_code == 404
        for path in (at, visit, f"/photos/{photo['id']}", f"/candidates/{scene.heron.id}/photos"):
            assert who.get(path).status_code == 404
        refused = who.delete(f"/photos/{photo['id']}", If_Match='"x"')
        assert refused.status_code == 404
    assert send(scene.cast.nobody, at, picture()).status_code == 401
    assert Photo.objects.count() == 1


def test_an_observer_looks_and_sends_nothing(scene, bens, at):
    photo = sent_photo(scene.cast.ben, at)
    ivy = scene.cast.ivy
    refused = send(ivy, f"/viewings/{scene.viewing.id}/photos", picture())
    assert (refused.status_code, "helper" in refused.json()["roles"]) == (403, True)
    assert send(ivy, at, picture()).status_code == 403
    assert ivy.change("DELETE", f"/photos/{photo['id']}").status_code == 403


def test_only_the_author_adds_to_a_submission(scene, at):
    refused = send(scene.cast.bea, at, picture())
    assert (refused.status_code, refused.json()["roles"]) == (403, ["author"])


def test_what_goes_with_a_draft_is_its_authors_alone(scene):
    draft = scene.posted(scene.cast.ben, look("joint", 3), state="draft")
    where = f"/submissions/{draft['id']}/photos"
    photo = sent_photo(scene.cast.ben, where, {"checkpoint": "joint"})
    for path in (where, f"/photos/{photo['id']}"):
        assert scene.cast.ola.get(path).status_code == 404
    for path in (f"/viewings/{scene.viewing.id}/photos", f"/candidates/{scene.heron.id}/photos"):
        assert scene.cast.ola.get(path).json()["results"] == []
        assert len(scene.cast.ben.get(path).json()["results"]) == 1
    told = Event.objects.filter(thing="photo")
    assert {event.only_for for event in told} == {scene.cast.ben.person.id}
    body = {"state": "submitted", "findings": [look("joint", 3)]}
    scene.cast.ben.change("PUT", f"/submissions/{draft['id']}", body)
    assert scene.cast.ola.get(f"/photos/{photo['id']}").json()["state"] == "ready"


def test_what_was_submitted_is_open_for_a_week(scene, bens, at):
    Submission.objects.update(submitted_at=timezone.now() - timedelta(days=6))
    photo = sent_photo(scene.cast.ben, at)
    Submission.objects.update(submitted_at=timezone.now() - timedelta(days=8))
    refused = send(scene.cast.ben, at, picture())
    assert (refused.status_code, refused.json()["code"]) == (409, "closed")
    refused = scene.cast.ben.change("DELETE", f"/photos/{photo['id']}")
    assert (refused.status_code, refused.json()["code"]) == (409, "closed")


def test_nothing_was_seen_on_a_visit_that_was_called_off(scene):
    off = scene.visit(state=Viewing.State.CALLED_OFF)
    refused = send(scene.cast.ben, f"/viewings/{off.id}/photos", picture())
    assert (refused.status_code, refused.json()["code"]) == (409, "called_off")


def test_there_is_an_end_to_them(scene, at, monkeypatch):
    monkeypatch.setattr("apps.viewings.media.adding.MOST_TO_ONE", 2)
    for _ in range(2):
        assert send(scene.cast.ben, at, picture()).status_code == 201
    refused = send(scene.cast.ben, at, picture())
    assert (refused.status_code, refused.json()["code"]) == (409, "too_many")


# --- Repeats -------------------------------------------------------------------------------------


def test_a_repeat_under_one_key_is_answered_once(scene, at):
    """Each try of a client has other lines between the parts of its form."""
    form = {"file": picture(), "note": "One."}
    first = scene.cast.ben.send_form(at, form, Idempotency_Key="a-photo")
    body = (
        b'--other\r\nContent-Disposition: form-data; name="note"\r\n\r\nOne.\r\n'
        b'--other\r\nContent-Disposition: form-data; name="file"; filename="b.jpg"\r\n'
        b"Content-Type: image/jpeg\r\n\r\n" + picture() + b"\r\n--other--\r\n"
    )
    again = Client().generic(
        "POST",
        f"/api/v1{at}",
        body,
        content_type="multipart/form-data; boundary=other",
        headers={
            "Authorization": f"Bearer {scene.cast.ben.secret}",
            "Idempotency-Key": "a-photo",
        },
    )
    assert (again.status_code, again.json()) == (201, first.json())
    assert again["Idempotent-Replay"] == "true"
    assert Photo.objects.count() == 1
    form["file"] = picture(size=(20, 20))
    other = scene.cast.ben.send_form(at, form, Idempotency_Key="a-photo")
    assert pointers(other) == {""}


def test_the_same_under_one_id_is_stored_once(scene, at):
    made = {"id": str(uuid7()), "note": "One."}
    first = send(scene.cast.ben, at, picture(), **made)
    again = send(scene.cast.ben, at, picture(), **made)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    for other in ({"note": "Two."}, {"content": picture(size=(20, 20))}):
        fields = {**made, **other}
        refused = send(scene.cast.ben, at, fields.pop("content", picture()), **fields)
        assert (refused.status_code, refused.json()["code"]) == (409, "id_taken")
    visit = f"/viewings/{scene.viewing.id}/photos"
    assert send(scene.cast.bea, visit, picture(), **made).status_code == 409
    assert Photo.objects.count() == 1


def test_a_refused_one_leaves_nothing(scene, at):
    before = Event.objects.count()
    send(scene.cast.ben, at, b"rubbish")
    send(scene.cast.bea, at, picture())
    assert (Photo.objects.count(), Event.objects.count()) == (0, before)


# --- Taking them back ----------------------------------------------------------------------------


def test_whoever_sent_it_takes_it_back(scene, bens, at, django_capture_on_commit_callbacks):
    photo = sent_photo(scene.cast.ben, at)
    stored = Photo.objects.get()
    keys = [stored.key(form) for form in ("image", "thumbnail")]
    assert all(map(storage().exists, keys))
    where = f"/photos/{photo['id']}"
    assert scene.cast.ben.delete(where).status_code == 428
    assert scene.cast.ben.delete(where, If_Match='"old-1"').status_code == 412
    assert scene.cast.bea.change("DELETE", where).status_code == 403
    with django_capture_on_commit_callbacks(execute=True):
        assert scene.cast.ben.change("DELETE", where).status_code == 204
    assert not any(map(storage().exists, keys))
    assert scene.cast.ben.get(where).status_code == 404
    assert Client().get(photo["image"]).status_code == 404, "links to it open nothing any more"
    last = Event.objects.order_by("-number")[0]
    assert (last.kind, last.deleted, str(last.thing_id)) == ("photo.removed", True, photo["id"])


def test_an_organiser_takes_it_back_at_any_time(scene, at):
    photo = sent_photo(scene.cast.ben, at)
    Submission.objects.update(submitted_at=timezone.now() - timedelta(days=400))
    assert scene.cast.ola.change("DELETE", f"/photos/{photo['id']}").status_code == 204


def test_files_go_with_the_draft(scene, django_capture_on_commit_callbacks):
    draft = scene.posted(scene.cast.ben, look("joint", 3), state="draft")
    sent_photo(scene.cast.ben, f"/submissions/{draft['id']}/photos")
    key = Photo.objects.get().key("image")
    with django_capture_on_commit_callbacks(execute=True):
        gone = scene.cast.ben.change("DELETE", f"/submissions/{draft['id']}")
    assert gone.status_code == 204
    assert not storage().exists(key)


# --- Links ---------------------------------------------------------------------------------------


def test_a_link_opens_one_file_without_signing_in_and_says_what_it_is(scene, at):
    photo = sent_photo(scene.cast.ben, at)
    answer = Client().get(photo["image"])
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Content-Disposition"] == f'inline; filename="image-{photo["id"]}.jpg"'
    private, age, immutable = answer["Cache-Control"].split(", ")
    assert (private, immutable) == ("private", "immutable")
    assert 1800 < int(age.removeprefix("max-age=")) <= 3600
    assert answer["Content-Security-Policy"] == "default-src 'none'; sandbox"
    held = Client().get(photo["image"], headers={"If-None-Match": answer["ETag"]})
    assert (held.status_code, held.content) == (304, b"")
    assert Client().post(photo["image"]).status_code == 405
    assert Client().head(photo["image"]).status_code == 200


def test_a_link_ends_with_what_let_its_holder_see_the_photo(scene, at):
    photo = sent_photo(scene.cast.ben, at)
    own = Membership.objects.filter(person=scene.cast.ben.person)
    of_bea = scene.cast.bea.get(f"/photos/{photo['id']}").json()["image"]
    own.update(ended_at=timezone.now())
    answer = Client().get(photo["image"])
    assert (answer.status_code, answer.json()["code"]) == (404, "not_found")
    assert Client().get(photo["thumbnail"]).status_code == 404
    assert Client().get(of_bea).status_code == 200, "everybody has their own"
    own.update(ended_at=None)
    assert Client().get(photo["image"]).status_code == 200
    Person.objects.filter(pk=scene.cast.ben.person.pk).update(is_active=False)
    assert Client().get(photo["image"]).status_code == 404


def test_a_held_picture_is_not_confirmed_to_whoever_left(scene, at):
    photo = sent_photo(scene.cast.ben, at)
    held = Client().get(photo["image"])["ETag"]
    Membership.objects.filter(person=scene.cast.ben.person).update(ended_at=timezone.now())
    again = Client().get(photo["image"], headers={"If-None-Match": held})
    assert again.status_code == 404


def test_a_programs_link_ends_when_the_group_shuts_it_out(scene, at):
    photo = sent_photo(scene.cast.ben, at)
    with_password(scene.cast.ben)
    app = gauge(("findings:read",))
    tokens = app.tokens(scene.cast.ben.person.email, scope="findings:read")
    of_program = Speaker(None, tokens["access_token"]).get(f"/photos/{photo['id']}").json()["image"]
    assert Client().get(of_program).status_code == 200
    there = GroupProgram.objects.filter(group=scene.cast.group, program=app.program)
    there.update(enabled=False)
    assert Client().get(of_program).status_code == 404
    assert Client().get(photo["image"]).status_code == 200
    there.update(enabled=True)
    assert Client().get(of_program).status_code == 200
    Program.objects.filter(pk=app.program.pk).update(enabled=False)
    assert Client().get(of_program).status_code == 404


def test_a_link_ends_with_the_session_in_which_it_was_given(scene, at):
    photo = sent_photo(scene.cast.ben, at)
    again = with_token(scene.cast.ben.person)
    by_script = again.get(f"/photos/{photo['id']}").json()
    (session,) = Token.objects.filter(person=scene.cast.ben.person, kind="session")
    assert scene.cast.ben.delete(f"/sessions/{session.pk}").status_code == 204
    for form in ("image", "thumbnail"):
        answer = Client().get(photo[form])
        assert (answer.status_code, answer.json()["code"]) == (404, "not_found")
        assert Client().get(by_script[form]).status_code == 200
    Token.objects.filter(kind="personal").update(revoked_at=timezone.now())
    assert Client().get(by_script["image"]).status_code == 404


def test_a_link_ends_with_the_time_of_its_token(scene, at):
    photo = sent_photo(scene.cast.ben, at)
    early = timezone.now() - timedelta(days=3)
    Token.objects.update(created_at=early, expires_at=timezone.now() - timedelta(seconds=1))
    assert Client().get(photo["image"]).status_code == 404


def test_a_programs_link_ends_with_its_token(scene, at):
    photo = sent_photo(scene.cast.ben, at)
    with_password(scene.cast.ben)
    app = gauge(("findings:read",))
    tokens = app.tokens(scene.cast.ben.person.email, scope="findings:read")
    of_program = Speaker(None, tokens["access_token"]).get(f"/photos/{photo['id']}").json()["image"]
    assert Client().get(of_program).status_code == 200
    assert scene.cast.ben.delete(f"/grants/{app.program.pk}").status_code == 204
    assert Client().get(of_program).status_code == 404
    assert Client().get(photo["image"]).status_code == 200


def test_a_held_answer_of_another_session_is_another_answer(scene, at):
    """Or a client would be told that the links it holds, which ended, are what there is."""
    photo = sent_photo(scene.cast.ben, at)
    where = f"/photos/{photo['id']}"
    held = scene.cast.ben.get(where)["ETag"]
    again = with_token(scene.cast.ben.person)
    assert again.get(where, If_None_Match=held).status_code == 200


def test_a_link_runs_out(scene, at, monkeypatch):
    photo = sent_photo(scene.cast.ben, at)
    later = timezone.now().timestamp() + 3601
    monkeypatch.setattr("apps.viewings.media.links.time.time", lambda: later)
    answer = Client().get(photo["image"])
    assert (answer.status_code, answer.json()["code"]) == (410, "link_ended")
    again = scene.cast.ben.get(f"/photos/{photo['id']}").json()
    assert Client().get(again["image"]).status_code == 200


def test_a_held_answer_is_old_once_its_links_are(scene, at, monkeypatch):
    photo = sent_photo(scene.cast.ben, at)
    where = f"/photos/{photo['id']}"
    held = scene.cast.ben.get(where)["ETag"]
    assert scene.cast.ben.get(where, If_None_Match=held).status_code == 304
    later = timezone.now().timestamp() + 1800
    monkeypatch.setattr("apps.viewings.media.links.time.time", lambda: later)
    assert scene.cast.ben.get(where, If_None_Match=held).status_code == 200
    assert scene.cast.ben.delete(where, If_Match=held).status_code == 204, "the version is the same"


def test_a_link_opens_nothing_else(scene, at):
    one, two = sent_photo(scene.cast.ben, at), sent_photo(scene.cast.ben, at)
    token = one["image"].partition("?token=")[2]
    path = one["image"].partition("?")[0]
    for forged in (
        two["image"].partition("?")[0] + f"?token={token}",
        path.replace("/image", "/thumbnail") + f"?token={token}",
        path.replace("/image", "/original") + f"?token={token}",
        path.replace("/photos/", "/sounds/") + f"?token={token}",
        f"{path}?token={token[:-1]}",
        f"{path}?token=",
        path,
    ):
        answer = Client().get(forged)
        assert (answer.status_code, answer.json()["code"]) == (404, "not_found"), forged


# --- Events --------------------------------------------------------------------------------------


def test_every_step_is_told(scene, bens, at):
    photo = sent_photo(scene.cast.ben, at, {"checkpoint": "joint"})
    scene.cast.ben.change("DELETE", f"/photos/{photo['id']}")
    told = Event.objects.filter(thing="photo").order_by("number")
    assert [event.kind for event in told] == ["photo.added", "photo.ready", "photo.removed"]
    assert [event.by_id for event in told] == [
        scene.cast.ben.person.id,
        None,
        scene.cast.ben.person.id,
    ]
    assert told[1].facts == {
        "list": str(scene.list.id),
        "candidate": str(scene.heron.id),
        "viewing": str(scene.viewing.id),
        "submission": bens["id"],
        "checkpoint": "joint",
        "state": "ready",
    }


def test_pictures_change_no_result(scene, at):
    before = scene.revision()
    sent_photo(scene.cast.ben, at)
    assert scene.revision() == before


def test_pixels_survive(scene, at):
    """Re-encoding costs little: JPEG at quality 85 keeps a smooth picture within a few steps."""
    ramp = np.linspace(0, 255, 256, dtype=np.uint8)
    sent = np.dstack([np.tile(ramp, (64, 1)), np.full((64, 256), 90, np.uint8),
                      np.tile(ramp[::-1], (64, 1))])  # fmt: skip
    file = io.BytesIO()
    Image.fromarray(sent).save(file, "PNG")
    shown = np.asarray(opened(sent_photo(scene.cast.ben, at, {"file": file.getvalue()})["image"]))
    assert np.abs(shown.astype(int) - sent.astype(int)).mean() < 3
