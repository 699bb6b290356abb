"""Clearances of doubts about structure, safety and flooding."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone
from uuid_utils.compat import uuid7

from apps.catalogue.services import catalogue_load
from apps.events.models import Event
from apps.groups.models import Membership
from apps.viewings.models import Clearance, Submission
from tests.accounts.oauth import gauge, with_password
from tests.conftest import Speaker, pointers
from tests.viewings.conftest import look


def clear(scene, who=None, **changed):
    body = {
        "checkpoint": "joint",
        "basis": "repair",
        "level": 0,
        "document": "Invoice 17 of the yard",
        "dated_on": "2025-03-20",
        **changed,
    }
    return (who or scene.cast.ben).post(f"/candidates/{scene.heron.id}/clearances", body)


@pytest.fixture
def at(scene):
    return f"/clearances/{clear(scene).json()['id']}"


def test_it_works(scene):
    before = scene.revision()
    made = clear(scene, basis="professional", profession="surveyor", level=1, note="Page 4.")
    assert made.status_code == 201, made.content
    said = made.json()
    assert (said["basis"], said["profession"], said["level"]) == ("professional", "surveyor", 1)
    assert said["withdrawn_at"] is None
    assert scene.cast.ivy.get(f"/clearances/{said['id']}").json() == said
    assert scene.revision() == before + 1
    assert Event.objects.latest("number").kind == "clearance.added"


def test_a_receipt_settles_only_what_the_catalogue_says(scene):
    refused = clear(scene, basis="receipt")
    assert pointers(refused) == {"/basis"}
    assert [fault["code"] for fault in refused.json()["errors"]] == ["no_receipt"]
    assert pointers(clear(scene, checkpoint="mainsail", basis="receipt")) == {"/checkpoint"}
    said = "professional_only = false"
    scene.catalogue.change("checkpoints/rigging.toml", said, f"{said}\nreceipt_clears = true")
    catalogue_load(folder=scene.catalogue.folder)
    made = clear(scene, checkpoint="terminals", basis="receipt")
    assert made.status_code == 201, made.content
    assert made.json()["basis"] == "receipt"
    named = clear(scene, checkpoint="terminals", basis="receipt", profession="rigger")
    assert pointers(named) == {"/profession"}


def test_it_is_withdrawn_and_stays_on_record(scene, at):
    before = scene.revision()
    assert scene.cast.ben.change("DELETE", at).status_code == 204
    assert scene.revision() == before + 1
    assert scene.cast.ivy.get(at).json()["withdrawn_at"]
    again = scene.cast.ben.change("DELETE", at)
    assert (again.status_code, again.json()["code"]) == (409, "withdrawn")
    listing = f"/candidates/{scene.heron.id}/clearances"
    assert len(scene.cast.ivy.get(listing).json()["results"]) == 1
    assert scene.cast.ivy.get(f"{listing}?live=true").json()["results"] == []


def test_who_added_it_or_an_organiser_withdraws_it(scene, at):
    refused = scene.cast.bea.change("DELETE", at)
    assert (refused.status_code, refused.json()["roles"]) == (403, ["organiser"])
    assert scene.cast.ola.change("DELETE", at).status_code == 204


def test_it_does_not_exist_for_strangers(scene, at):
    for stranger in (scene.cast.sten, scene.cast.wim):
        assert clear(scene, stranger).status_code == 404
        assert stranger.get(at).status_code == 404
        assert stranger.get(f"/candidates/{scene.heron.id}/clearances").status_code == 404
        assert stranger.delete(at).status_code == 404
    assert scene.cast.nobody.get(at).status_code == 401


def test_an_observer_may_not_clear(scene, at):
    refused = clear(scene, scene.cast.ivy)
    assert (refused.status_code, refused.json()["roles"]) == (403, ["buyer", "organiser"])
    assert scene.cast.ivy.change("DELETE", at).status_code == 403


def test_a_helper_may_not_clear(scene):
    """Neither may a program that acts for one, or that is itself a helper."""
    for who in (scene.cast.hal, acting_for(scene.cast.hal), program_in(scene, "helper")):
        refused = clear(scene, who)
        assert (refused.status_code, refused.json()["roles"]) == (403, ["buyer", "organiser"])
    assert not Clearance.objects.exists()
    assert clear(scene, acting_for(scene.cast.ben)).status_code == 201


def acting_for(who: Speaker) -> Speaker:
    """A program that a member allowed to act for them."""
    with_password(who)
    tokens = gauge(("findings:write",)).tokens(who.person.email, scope="findings:write")
    return Speaker(None, tokens["access_token"])


def program_in(scene, role: str) -> Speaker:
    """A program with its own membership in the group."""
    body = {"name": "Meter", "role": role, "scopes": ["findings:write"]}
    made = scene.cast.ola.post(f"/groups/{scene.cast.group.id}/programs", body).json()
    given = Client().post(
        "/oauth/token",
        {
            "grant_type": "client_credentials",
            "client_id": made["client_id"],
            "client_secret": made["client_secret"],
        },
    )
    return Speaker(None, given.json()["access_token"])


AS_SURVEYOR = {"capacity": "professional", "profession": "surveyor"}


def test_a_helper_enters_no_professionals_finding(scene):
    for state in ("draft", "submitted"):
        refused = scene.post(scene.cast.hal, look("joint", 0), state=state, **AS_SURVEYOR)
        assert (refused.status_code, refused.json()["roles"]) == (403, ["buyer", "organiser"])
    own = f"/submissions/{scene.posted(scene.cast.hal, look('joint', 3), state='draft')['id']}"
    body = {"state": "submitted", "findings": [look("joint", 0)], **AS_SURVEYOR}
    assert scene.cast.hal.change("PUT", own, body).status_code == 403
    item = {"id": str(uuid7()), "viewing": str(scene.viewing.id), **body}
    batch = scene.cast.hal.post(
        f"/groups/{scene.cast.group.id}/submission-batches", {"submissions": [item]}
    )
    assert [one["status"] for one in batch.json()["results"]] == [403]
    assert not Submission.objects.filter(capacity="professional").exists()


def test_a_draft_made_as_a_buyer_is_not_submitted_as_a_helper(scene):
    draft = scene.posted(scene.cast.ben, look("joint", 0), state="draft", **AS_SURVEYOR)
    Membership.objects.filter(person=scene.cast.ben.person).update(role="helper", buys=False)
    body = {"state": "submitted", "findings": [look("joint", 0)], **AS_SURVEYOR}
    assert scene.cast.ben.change("PUT", f"/submissions/{draft['id']}", body).status_code == 403


def test_stale_and_missing_versions(scene, at):
    seen = scene.cast.ben.get(at)["ETag"]
    Clearance.objects.get().save_changes(fields=[])
    assert scene.cast.ben.delete(at, If_Match=seen).status_code == 412
    assert scene.cast.ben.delete(at).status_code == 428
    assert Clearance.objects.get().withdrawn_at is None


def test_a_repeat_is_answered_once(scene, fresh_id):
    body = {
        "id": str(fresh_id),
        "checkpoint": "joint",
        "basis": "repair",
        "level": 0,
        "document": "Invoice",
        "dated_on": "2025-03-20",
    }
    listing = f"/candidates/{scene.heron.id}/clearances"
    first = scene.cast.ben.post(listing, body, Idempotency_Key="k")
    again = scene.cast.ben.post(listing, body, Idempotency_Key="k")
    assert again.json() == first.json()
    assert scene.cast.ben.post(listing, body).status_code == 409
    assert Clearance.objects.count() == 1


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"checkpoint": "bowsprit"}, "/checkpoint"),
        ({"checkpoint": "mainsail"}, "/checkpoint"),
        ({"basis": "hearsay"}, "/basis"),
        ({"basis": "professional"}, "/profession"),
        ({"profession": "surveyor"}, "/profession"),
        ({"level": 2}, "/level"),
        ({"document": ""}, "/document"),
        ({"dated_on": "2025-02-30"}, "/dated_on"),
        ({"by": "Ben"}, "/by"),
    ],
)
def test_bad_fields_are_named(scene, changed, pointer):
    assert pointers(clear(scene, **changed)) == {pointer}
    assert not Clearance.objects.exists()


def test_not_from_the_future(scene):
    day_after_tomorrow = timezone.now().date() + timedelta(days=2)
    assert pointers(clear(scene, dated_on=day_after_tomorrow)) == {"/dated_on"}


def test_constant_queries(scene, at, django_assert_num_queries):
    listing = f"/candidates/{scene.heron.id}/clearances"
    scene.cast.ivy.get(listing)  # a token's first use is noted
    # token, candidate, page
    with django_assert_num_queries(3):
        assert len(scene.cast.ivy.get(listing).json()["results"]) == 1
    for _ in range(6):
        clear(scene)
    with django_assert_num_queries(3):
        assert len(scene.cast.ivy.get(listing).json()["results"]) == 7
