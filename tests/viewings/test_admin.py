"""The admin shows findings read-only."""

import pytest
from django.test import Client
from django.urls import reverse

from apps.accounts.models import Person
from apps.viewings.media.models import Photo
from apps.viewings.models import Clearance, FollowUp, Submission
from tests.viewings.conftest import look
from tests.viewings.media import sent_photo, sent_sound


@pytest.fixture
def operator(db) -> Client:
    person = Person.objects.create_superuser("op@example.org", "long enough", name="Operator")
    client = Client()
    client.force_login(person)
    return client


def test_it_works(scene, operator):
    shown = scene.posted(scene.cast.ben, look("joint", 3), note="shown to all")
    hidden = scene.posted(scene.cast.bea, look("joint", 3), state="draft")
    facts = {"candidate": scene.heron, "added_by": scene.cast.ben.person}
    FollowUp.objects.create(question="Why?", asked_of="yard", **facts)
    Clearance.objects.create(
        checkpoint_id="joint", basis="repair", level=0, dated_on="2025-03-20", **facts
    )
    for name in ("viewing", "submission", "followup", "clearance"):
        answer = operator.get(f"/admin/viewings/{name}/")
        assert answer.status_code == 200
        assert answer.context["cl"].result_count == 1, name
    at = f"/admin/viewings/submission/{shown['id']}/change/"
    assert "shown to all" in operator.get(at).content.decode()
    assert operator.post(at, {"note": "changed"}).status_code == 403
    assert operator.get(f"/admin/viewings/submission/{hidden['id']}/change/").status_code == 302
    assert Submission.objects.get(pk=shown["id"]).note == "shown to all"


def test_photos_and_sounds_but_those_of_drafts(scene, operator):
    shown = scene.posted(scene.cast.ben, look("joint", 3))
    hidden = scene.posted(scene.cast.bea, look("joint", 3), state="draft")
    for who, to in ((scene.cast.ben, shown), (scene.cast.bea, hidden)):
        sent_photo(who, f"/submissions/{to['id']}/photos")
        sent_sound(who, f"/submissions/{to['id']}/sounds")
    sent_photo(scene.cast.hal, f"/viewings/{scene.viewing.id}/photos")
    for name, count in (("photo", 2), ("sound", 1)):
        answer = operator.get(f"/admin/viewings/{name}/")
        assert answer.status_code == 200
        assert answer.context["cl"].result_count == count, name


def test_a_boat_that_somebody_looked_at_cannot_be_deleted(scene, operator):
    """So neither can the photos, whose files would stay."""
    made = scene.posted(scene.cast.ben, look("joint", 3))
    sent_photo(scene.cast.ben, f"/submissions/{made['id']}/photos")
    boat = scene.heron
    for name, pk in (("boats_candidate", boat.pk), ("boats_candidatelist", boat.list_id)):
        address = reverse(f"admin:{name}_delete", args=[pk])
        assert operator.post(address, {"post": "yes"}).status_code == 403
    assert Photo.objects.exists()
