"""Recorded taps with findings: sent, measured by a job, compared, played, removed."""

import io
from datetime import timedelta
from uuid import UUID

import numpy as np
import pytest
import soundfile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from uuid_utils.compat import uuid7

from apps.events.models import Event
from apps.viewings.media.facts import list_sounds
from apps.viewings.media.files import storage
from apps.viewings.media.models import Sound
from apps.viewings.media.preparing import sound_prepare
from apps.viewings.models import Submission
from tests.conftest import FILE_NAME, pointers
from tests.viewings.conftest import could_not, look
from tests.viewings.media import DEVICE, PLACE, picture, sent_sound, sound_file, taps, with_device


@pytest.fixture
def bens(scene):
    return scene.posted(scene.cast.ben, look("joint", 3), could_not("mainsail", "covered"))


@pytest.fixture
def at(bens):
    return f"/submissions/{bens['id']}/sounds"


def send(who, path, content, **fields):
    return who.send_form(path, {"file": content, "checkpoint": "joint", **fields})


def played(address: str) -> tuple[np.ndarray, int]:
    answer = Client().get(address)
    assert (answer.status_code, answer["Content-Type"]) == (200, "audio/flac")
    return soundfile.read(io.BytesIO(b"".join(answer.streaming_content)))


def test_it_works(scene, bens, at):
    cast = scene.cast
    made = send(cast.ben, at, taps(0.04, 900.0), note="Under the step.")
    assert made.status_code == 201, made.content
    said = made.json()
    assert (said["state"], said["recording"], said["taps"]) == ("processing", None, [])
    assert (said["purpose"], said["checkpoint"]) == ("check", "joint")
    assert (said["submission"], said["candidate"]) == (bens["id"], str(scene.heron.id))
    assert "never a verdict" in said["caution"]
    assert "not a survey" in said["caution"]

    sound_prepare(sound_id=UUID(said["id"]))
    sent_sound(cast.ben, at, {"file": taps(0.12, 1500.0), "purpose": "reference"})
    ready = cast.ivy.get(f"/sounds/{said['id']}").json()
    assert (ready["state"], ready["rate_hz"], ready["fault"]) == ("ready", 44_100, None)
    assert ready["duration_s"] == pytest.approx(2.3)
    assert len(ready["taps"]) == 5
    for tap in ready["taps"]:
        assert tap["decay_s"] == pytest.approx(0.04, rel=0.05)
        assert tap["frequency_hz"] == pytest.approx(900.0, rel=0.02)
    compared = ready["comparison"]
    assert compared["taps"] == compared["reference_taps"] == 5
    assert compared["decay_ratio"] == pytest.approx(0.04 / 0.12, rel=0.06)
    assert compared["frequency_ratio"] == pytest.approx(0.6, rel=0.02)
    assert compared["dull_share"] == 1.0
    heard, rate = played(ready["recording"])
    assert (rate, len(heard)) == (44_100, round(2.3 * 44_100))


# --- What becomes of the file -------------------------------------------------------------------


@pytest.mark.parametrize("form", ["WAV", "FLAC"])
def test_either_format_is_measured_and_kept_without_loss(scene, at, form):
    content = taps(form=form)
    ready = sent_sound(scene.cast.ben, at, {"file": content})
    assert ready["state"] == "ready", ready
    sent, _ = soundfile.read(io.BytesIO(content))
    heard, _ = played(ready["recording"])
    np.testing.assert_allclose(heard, sent, atol=1e-6)


def test_place_and_device_are_gone(scene, at, django_capture_on_commit_callbacks):
    content = with_device(taps())
    assert PLACE.encode() in content
    assert DEVICE.encode() in content
    with django_capture_on_commit_callbacks(execute=True):
        ready = sent_sound(scene.cast.ben, at, {"file": content})
    assert ready["state"] == "ready", ready
    shown = b"".join(Client().get(ready["recording"]).streaming_content)
    for word in (PLACE, DEVICE, FILE_NAME):
        assert word.encode() not in shown
        assert word not in str(ready)
    opened = soundfile.SoundFile(io.BytesIO(shown))
    assert not any(opened.copy_metadata().values())
    assert not storage().exists(Sound.objects.get().key("original"))


def test_of_two_channels_the_louder_is_heard(scene, at):
    one, rate = soundfile.read(io.BytesIO(taps()))
    both = np.column_stack([0.01 * one[::-1], one])
    ready = sent_sound(scene.cast.ben, at, {"file": sound_file(both, rate)})
    assert len(ready["taps"]) == 5
    heard, _ = played(ready["recording"])
    assert heard.shape == one.shape


def test_a_recording_without_taps_is_fine_and_says_nothing(scene, at):
    quiet = np.random.default_rng(3).normal(0, 0.001, 44_100)
    ready = sent_sound(scene.cast.ben, at, {"file": sound_file(quiet, 44_100)})
    assert (ready["state"], ready["taps"], ready["comparison"]) == ("ready", [], None)


# --- What is refused -----------------------------------------------------------------------------


@pytest.mark.parametrize("content", [b"", b"no sound", picture(), b"OggS" + bytes(60), b"ID3\3"])
def test_what_is_no_recording_is_refused(scene, at, content):
    assert pointers(send(scene.cast.ben, at, content)) == {"/file"}
    assert not Sound.objects.exists()


def test_it_goes_with_a_finding_of_somebody_who_looked(scene, at):
    for checkpoint, code in (("iron", "no_finding"), ("mainsail", "not_looked")):
        refused = send(scene.cast.ben, at, taps(), checkpoint=checkpoint)
        assert pointers(refused) == {"/checkpoint"}
        assert refused.json()["errors"][0]["code"] == code
    assert pointers(scene.cast.ben.send_form(at, {"file": taps()})) == {"/checkpoint"}


def test_faults_of_the_form_point_to_its_fields(scene, at):
    refused = send(scene.cast.ben, at, taps(), purpose="verdict", note="x" * 301, loud="yes")
    assert pointers(refused) == {"/purpose", "/note", "/loud"}


def test_what_is_too_large_is_refused_before_it_is_read(scene, at, settings):
    settings.SOUND_LARGEST_BYTES = 100
    refused = send(scene.cast.ben, at, taps())
    assert (refused.status_code, refused.json()["code"]) == (413, "too_large")


RNG = np.random.default_rng(1)


@pytest.mark.parametrize(
    ("content", "fault"),
    [
        (taps()[:30], "damaged"),
        (b"fLaC" + bytes(100), "damaged"),
        (sound_file(RNG.normal(0, 0.1, 8000 * 31), 8000), "wrong_rate"),
        (sound_file(RNG.normal(0, 0.1, 16_000 * 31), 16_000, form="FLAC"), "too_long"),
        (sound_file(RNG.normal(0, 0.1, 800), 16_000), "too_short"),
        (sound_file(RNG.normal(0, 0.1, (16_000, 3)), 16_000), "wrong_channels"),
    ],
    ids=["wav", "flac", "rate", "long", "short", "channels"],
)
def test_what_cannot_be_measured_is_rejected_with_a_reason(scene, at, content, fault):
    said = sent_sound(scene.cast.ben, at, {"file": content})
    assert (said["state"], said["fault"]["code"], said["recording"]) == ("rejected", fault, None)


def test_numbers_that_are_none_are_damage(scene, at):
    heard = np.full(16_000, np.nan)
    file = io.BytesIO()
    soundfile.write(file, heard, 16_000, format="WAV", subtype="FLOAT")
    said = sent_sound(scene.cast.ben, at, {"file": file.getvalue()})
    assert said["fault"]["code"] == "damaged"


# --- Comparison ----------------------------------------------------------------------------------


def test_crisp_taps_are_like_the_reference(scene, at):
    sent_sound(scene.cast.ben, at, {"purpose": "reference"})
    compared = sent_sound(scene.cast.ben, at)["comparison"]
    assert (compared["decay_ratio"], compared["dull_share"]) == (1.0, 0.0)


def test_a_reference_is_the_same_boats_same_checkpoint(scene, at):
    ben = scene.cast.ben
    check = sent_sound(ben, at)
    dunlin = scene.posted(ben, look("mainsail", 1), viewing=scene.visit(scene.dunlin))
    heron = scene.posted(ben, look("iron", 1))
    for other, checkpoint in ((dunlin, "mainsail"), (heron, "iron")):
        form = {"purpose": "reference", "checkpoint": checkpoint}
        sent_sound(ben, f"/submissions/{other['id']}/sounds", form)
    assert ben.get(f"/sounds/{check['id']}").json()["comparison"] is None
    again = scene.posted(scene.cast.hal, look("joint", 1), viewing=scene.visit())
    sent_sound(scene.cast.hal, f"/submissions/{again['id']}/sounds", {"purpose": "reference"})
    held = ben.get(f"/sounds/{check['id']}")
    assert held.json()["comparison"]["dull_share"] == 0.0


def test_a_held_answer_is_old_once_there_is_a_reference(scene, at):
    check = sent_sound(scene.cast.ben, at)
    where = f"/sounds/{check['id']}"
    held = scene.cast.ben.get(where)["ETag"]
    assert scene.cast.ben.get(where, If_None_Match=held).status_code == 304
    sent_sound(scene.cast.ben, at, {"purpose": "reference"})
    assert scene.cast.ben.get(where, If_None_Match=held).status_code == 200


def test_references_of_a_draft_are_its_authors_alone(scene, at):
    check = sent_sound(scene.cast.ben, at)
    draft = scene.posted(scene.cast.hal, look("joint", 1), state="draft", viewing=scene.visit())
    sent_sound(scene.cast.hal, f"/submissions/{draft['id']}/sounds", {"purpose": "reference"})
    assert scene.cast.ben.get(f"/sounds/{check['id']}").json()["comparison"] is None
    assert scene.cast.hal.get(f"/sounds/{check['id']}").json()["comparison"] is not None


def test_what_was_superseded_is_no_reference(scene, bens, at):
    sent_sound(scene.cast.ben, at, {"purpose": "reference"})
    check = sent_sound(scene.cast.ben, at)
    scene.posted(scene.cast.ben, look("joint", 2), supersedes=bens["id"])
    assert scene.cast.ben.get(f"/sounds/{check['id']}").json()["comparison"] is None


# --- Lists, facts and results --------------------------------------------------------------------


def test_lists_and_the_finding_name_them(scene, bens, at):
    one = sent_sound(scene.cast.ben, at)
    two = sent_sound(scene.cast.ben, at, {"purpose": "reference"})

    def ids(path):
        return [row["id"] for row in scene.cast.ivy.get(path).json()["results"]]

    boat = f"/candidates/{scene.heron.id}/sounds"
    for path in (at, boat):
        assert ids(path) == [one["id"], two["id"]]
        assert ids(f"{path}?purpose=reference") == [two["id"]]
        assert ids(f"{path}?checkpoint=iron") == []
    assert ids(f"/candidates/{scene.dunlin.id}/sounds") == []
    said = scene.cast.ivy.get(f"/submissions/{bens['id']}").json()
    assert said["findings"][0]["sounds"] == [one["id"], two["id"]]
    assert said["sounds"][0] == {"id": one["id"], "checkpoint": "joint", "state": "ready"}


@pytest.mark.parametrize("of", ["submission", "candidate"])
def test_one_takes_as_many_queries_as_many(scene, at, of):
    where = {"submission": at, "candidate": f"/candidates/{scene.heron.id}/sounds"}[of]

    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert scene.cast.bea.get(where).status_code == 200
        return len(counted)

    sent_sound(scene.cast.ben, at)
    queries()  # the first one also notes when her token was used
    one = queries()
    for purpose in ("check", "reference", "check"):
        sent_sound(scene.cast.ben, at, {"purpose": purpose})
    assert queries() == one


def test_facts_hold_what_counts(scene, bens, at, django_assert_num_queries):
    sent_sound(scene.cast.ben, at, {"purpose": "reference"})
    send(scene.cast.ben, at, taps())  # not read yet
    draft = scene.posted(scene.cast.hal, look("joint", 1), state="draft", viewing=scene.visit())
    sent_sound(scene.cast.hal, f"/submissions/{draft['id']}/sounds")
    with django_assert_num_queries(1):
        (fact,) = list_sounds(scene.list.id)
    assert (str(fact.submission_id), fact.checkpoint) == (bens["id"], "joint")
    assert fact.is_reference
    assert len(fact.taps) == 5


def test_results_are_worked_out_anew_once_it_is_measured(scene, at):
    before = scene.revision()
    made = send(scene.cast.ben, at, taps()).json()
    assert scene.revision() == before
    sound_prepare(sound_id=UUID(made["id"]))
    assert scene.revision() == before + 1
    scene.cast.ben.change("DELETE", f"/sounds/{made['id']}")
    assert scene.revision() == before + 2


def test_every_step_is_told(scene, at):
    sound = sent_sound(scene.cast.ben, at)
    scene.cast.ben.change("DELETE", f"/sounds/{sound['id']}")
    told = Event.objects.filter(thing="sound").order_by("number")
    assert [event.kind for event in told] == ["sound.added", "sound.ready", "sound.removed"]
    assert told[2].deleted


# --- Who may -------------------------------------------------------------------------------------


def test_strangers_see_nothing(scene, at):
    sound = sent_sound(scene.cast.ben, at)
    for who in (scene.cast.wim, scene.cast.sten):
        assert send(who, at, taps()).status_code == 404
        for path in (at, f"/sounds/{sound['id']}", f"/candidates/{scene.heron.id}/sounds"):
            assert who.get(path).status_code == 404
        assert who.delete(f"/sounds/{sound['id']}", If_Match='"x"').status_code == 404
    assert send(scene.cast.nobody, at, taps()).status_code == 401


def test_an_observer_listens_and_sends_nothing(scene, at):
    sound = sent_sound(scene.cast.ben, at)
    assert scene.cast.ivy.get(f"/sounds/{sound['id']}").status_code == 200
    assert send(scene.cast.ivy, at, taps()).status_code == 403
    assert scene.cast.ivy.change("DELETE", f"/sounds/{sound['id']}").status_code == 403


def test_only_the_author_adds_and_takes_back(scene, at):
    sound = sent_sound(scene.cast.ben, at)
    where = f"/sounds/{sound['id']}"
    assert send(scene.cast.bea, at, taps()).status_code == 403
    assert scene.cast.bea.change("DELETE", where).status_code == 403
    assert scene.cast.ben.delete(where).status_code == 428
    assert scene.cast.ben.delete(where, If_Match='"old-1"').status_code == 412
    assert scene.cast.ben.change("DELETE", where).status_code == 204


def test_what_was_submitted_is_open_for_a_week(scene, at):
    Submission.objects.update(submitted_at=timezone.now() - timedelta(days=8))
    refused = send(scene.cast.ben, at, taps())
    assert (refused.status_code, refused.json()["code"]) == (409, "closed")


def test_repeats_are_stored_once(scene, at):
    form = {"file": taps(), "checkpoint": "joint", "id": str(uuid7())}
    first = scene.cast.ben.send_form(at, form, Idempotency_Key="a-sound")
    same_key = scene.cast.ben.send_form(at, form, Idempotency_Key="a-sound")
    same_id = scene.cast.ben.send_form(at, form)
    assert [each.status_code for each in (first, same_key, same_id)] == [201, 201, 200]
    assert first.json() == same_key.json() == same_id.json()
    refused = scene.cast.ben.send_form(at, {**form, "purpose": "reference"})
    assert (refused.status_code, refused.json()["code"]) == (409, "id_taken")
    assert Sound.objects.count() == 1
