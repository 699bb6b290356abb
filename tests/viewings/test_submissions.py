"""Posting, reading and listing submissions."""

from uuid import UUID

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from uuid_utils.compat import uuid7

from apps.events.models import Event
from apps.groups.models import Membership
from apps.viewings.models import Finding, Submission
from tests.conftest import pointers
from tests.viewings.conftest import could_not, look


def test_it_works(scene):
    before = scene.revision()
    body = {
        "state": "submitted",
        "vote": "query",
        "minutes": 45,
        "note": "Looked after, but the joint weeps.",
        "findings": [
            {
                "checkpoint": "joint",
                "kind": "looked",
                "level": 3,
                "sureness": "sure",
                "measured": {"value": 2.5, "unit": "mm"},
                "note": "Widest in front.",
                "tags": ["weeps"],
            },
            {"checkpoint": "mainsail", "kind": "could_not_look", "reason": "covered"},
            {"checkpoint": "iron", "kind": "does_not_apply"},
        ],
    }
    made = scene.cast.ben.post(f"/viewings/{scene.viewing.id}/submissions", body)
    assert made.status_code == 201, made.content
    said = made.json()
    assert (said["state"], said["vote"], said["vote_hidden"]) == ("submitted", "query", False)
    assert (said["author"]["name"], said["capacity"]) == ("Ben", "member")
    assert said["candidate"] == str(scene.heron.id)
    assert said["submitted_at"]
    assert said["findings"] == [
        {
            "checkpoint": "joint",
            "version": 1,
            "whose": "base",
            "title": "Line where keel meets hull",
            "kind": "looked",
            "level": 3,
            "reason": None,
            "sureness": "sure",
            "measured": {"value": 2.5, "unit": "mm"},
            "note": "Widest in front.",
            "tags": ["weeps"],
            "photos": [],
            "sounds": [],
        },
        {
            "checkpoint": "mainsail",
            "version": 1,
            "whose": "base",
            "title": "Mainsail",
            "kind": "could_not_look",
            "level": None,
            "reason": "covered",
            "sureness": "fairly",
            "measured": None,
            "note": "",
            "tags": [],
            "photos": [],
            "sounds": [],
        },
        {
            "checkpoint": "iron",
            "version": 1,
            "whose": "base",
            "title": "Rust on an iron keel",
            "kind": "does_not_apply",
            "level": None,
            "reason": None,
            "sureness": "fairly",
            "measured": None,
            "note": "",
            "tags": [],
            "photos": [],
            "sounds": [],
        },
    ]
    read = scene.cast.ben.get(f"/submissions/{said['id']}")
    assert read.json() == said
    assert read["ETag"] == made["ETag"]
    assert scene.revision() == before + 1
    scene.viewing.refresh_from_db()
    assert scene.viewing.state == "made", "findings say that the visit was made"
    kinds = list(Event.objects.values_list("kind", flat=True))
    assert kinds == ["viewing.changed", "submission.submitted"]
    assert Event.objects.latest("number").only_for is None


def test_it_lists_for_the_viewing_and_the_candidate(scene):
    second, elsewhere = scene.visit(), scene.visit(scene.dunlin)
    ben = scene.posted(scene.cast.ben, look("joint", 1))
    hal = scene.posted(scene.cast.hal, look("iron", 2), viewing=second)
    scene.posted(scene.cast.bea, look("iron", 2), viewing=elsewhere)

    def ids(path):
        return [row["id"] for row in scene.cast.ivy.get(path).json()["results"]]

    assert ids(f"/viewings/{scene.viewing.id}/submissions") == [ben["id"]]
    assert ids(f"/candidates/{scene.heron.id}/submissions") == [ben["id"], hal["id"]]


def test_it_does_not_exist_for_strangers(scene):
    made = scene.posted(scene.cast.ben, look("joint", 1))
    for stranger in (scene.cast.sten, scene.cast.wim):
        assert scene.post(stranger, look("joint", 1)).status_code == 404
        for path in (
            f"/submissions/{made['id']}",
            f"/viewings/{scene.viewing.id}/submissions",
            f"/candidates/{scene.heron.id}/submissions",
        ):
            assert stranger.get(path).status_code == 404
        assert stranger.delete(f"/submissions/{made['id']}").status_code == 404
    assert scene.cast.nobody.get(f"/submissions/{made['id']}").status_code == 401


def test_observer_may_not_submit(scene):
    refused = scene.post(scene.cast.ivy, look("joint", 1))
    assert refused.status_code == 403
    assert refused.json()["roles"] == ["buyer", "helper", "organiser"]
    assert not Submission.objects.exists()


def test_who_stopped_submitting_may_not_submit_a_draft(scene):
    draft = scene.posted(scene.cast.ben, look("joint", 1), state="draft")
    Membership.objects.filter(pk=scene.cast.membership(scene.cast.ben).pk).update(
        role="observer", buys=False
    )
    body = {"state": "submitted", "findings": []}
    refused = scene.cast.ben.change("PUT", f"/submissions/{draft['id']}", body)
    assert refused.status_code == 403


def test_no_findings_from_a_visit_called_off(scene):
    refused = scene.post(scene.cast.ben, look("joint", 1), viewing=scene.visit(state="called_off"))
    assert (refused.status_code, refused.json()["code"]) == (409, "called_off")


def test_the_same_again_gets_what_is_stored(scene, fresh_id):
    first = scene.post(scene.cast.ben, look("joint", 2), id=str(fresh_id))
    again = scene.post(scene.cast.ben, look("joint", 2), id=str(fresh_id))
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json() == first.json()
    assert again["ETag"] == first["ETag"]
    assert Submission.objects.count() == 1
    assert Event.objects.filter(kind="submission.submitted").count() == 1


def test_a_late_repeat_gets_the_draft_as_it_is_now(scene, fresh_id):
    scene.post(scene.cast.ben, look("joint", 2), id=str(fresh_id), state="draft")
    at = f"/submissions/{fresh_id}"
    scene.cast.ben.change("PUT", at, {"findings": [look("joint", 3)]})
    again = scene.post(scene.cast.ben, look("joint", 2), id=str(fresh_id), state="draft")
    assert again.status_code == 200
    assert again.json()["findings"][0]["level"] == 3


@pytest.mark.parametrize(
    "changed", [{"note": "other"}, {"state": "draft"}, {"findings": [look("joint", 1)]}]
)
def test_other_content_under_the_same_id_is_refused(scene, fresh_id, changed):
    body = {"id": str(fresh_id), "state": "submitted", "findings": [look("joint", 2)]}
    at = f"/viewings/{scene.viewing.id}/submissions"
    assert scene.cast.ben.post(at, body).status_code == 201
    refused = scene.cast.ben.post(at, {**body, **changed})
    assert (refused.status_code, refused.json()["code"]) == (409, "id_taken")
    assert Finding.objects.get().level == 2


def test_the_same_id_of_somebody_else_or_elsewhere_is_refused(scene, fresh_id):
    scene.post(scene.cast.ben, look("joint", 2), id=str(fresh_id))
    assert scene.post(scene.cast.bea, look("joint", 2), id=str(fresh_id)).status_code == 409
    other = scene.visit()
    again = scene.post(scene.cast.ben, look("joint", 2), id=str(fresh_id), viewing=other)
    assert again.status_code == 409


def test_a_repeat_by_key_is_answered_once(scene):
    at = f"/viewings/{scene.viewing.id}/submissions"
    body = {"state": "submitted", "findings": [look("joint", 1)]}
    first = scene.cast.ben.post(at, body, Idempotency_Key="k")
    again = scene.cast.ben.post(at, body, Idempotency_Key="k")
    assert again.json() == first.json()
    assert again["Idempotent-Replay"] == "true"
    other = scene.cast.ben.post(at, {**body, "note": "other"}, Idempotency_Key="k")
    assert other.status_code == 422
    assert Submission.objects.count() == 1


def test_a_professional_says_which(scene):
    surveyed = scene.posted(
        scene.cast.ola, look("joint", 1), capacity="professional", profession="surveyor"
    )
    assert (surveyed["capacity"], surveyed["profession"]) == ("professional", "surveyor")
    refused = scene.post(scene.cast.ola, look("joint", 1), capacity="professional")
    assert pointers(refused) == {"/profession"}
    refused = scene.post(scene.cast.ola, look("joint", 1), profession="surveyor")
    assert pointers(refused) == {"/profession"}
    refused = scene.post(
        scene.cast.ola, look("joint", 1), capacity="professional", profession="uncle"
    )
    assert pointers(refused) == {"/profession"}


def test_only_who_buys_gives_a_call(scene):
    refused = scene.post(scene.cast.hal, look("joint", 1), vote="keep")
    assert pointers(refused) == {"/vote"}
    assert scene.post(scene.cast.hal, look("joint", 1), vote=None).status_code == 201


@pytest.mark.parametrize(
    ("changed", "at"),
    [
        ({"state": "sent"}, "/state"),
        ({"vote": "buy"}, "/vote"),
        ({"minutes": 0}, "/minutes"),
        ({"id": "mine"}, "/id"),
        ({"note": "x" * 4001}, "/note"),
        ({"findings": "none"}, "/findings"),
        ({"findings": [{"kind": "looked", "level": 1}]}, "/findings/0/checkpoint"),
        ({"mood": "good"}, "/mood"),
    ],
)
def test_bad_fields_are_named(scene, changed, at):
    assert pointers(scene.post(scene.cast.ben, **changed)) == {at}
    assert not Submission.objects.exists()


def test_constant_queries(scene, django_assert_num_queries):
    ivy, viewing = scene.cast.ivy, f"/viewings/{scene.viewing.id}/submissions"
    scene.posted(scene.cast.ben, look("joint", 1))
    ivy.get(viewing)  # a token's first use is noted
    candidate = f"/candidates/{scene.heron.id}/submissions"
    # token, viewing (and its people) or candidate, own votes, page, findings and the versions of
    # their checkpoints, photos, sounds
    with django_assert_num_queries(9):
        assert len(ivy.get(viewing).json()["results"]) == 1
    with django_assert_num_queries(8):
        assert len(ivy.get(candidate).json()["results"]) == 1
    for who in (scene.cast.bea, scene.cast.hal, scene.cast.ola):
        for level in range(3):
            scene.posted(who, look("joint", level), look("iron", 1), could_not("mainsail", "aired"))
    with django_assert_num_queries(9):
        assert len(ivy.get(viewing).json()["results"]) == 10
    with django_assert_num_queries(8):
        assert len(ivy.get(candidate).json()["results"]) == 10


def test_posting_costs_the_same_however_much_is_found(scene):
    at = f"/viewings/{scene.viewing.id}/submissions"
    every = [
        look("joint", 1),
        look("iron", 1),
        could_not("mainsail", "aired"),
        look("terminals", 0),
    ]
    scene.posted(scene.cast.ben)  # the visit is made, the token used, the edition read

    def queries(findings):
        with CaptureQueriesContext(connection) as seen:
            body = {"id": str(uuid7()), "state": "submitted", "findings": findings}
            assert scene.cast.ben.post(at, body).status_code == 201
        return len(seen)

    assert queries(every[:1]) == queries(every)


def test_the_answer_is_what_a_reader_gets(scene):
    """It is composed without reading the submission back."""
    ben, body = (
        scene.cast.ben,
        {
            "vote": "keep",
            "observed_at": "2025-03-01T12:30:00.123456+02:00",
            "findings": [
                look(
                    "joint", 2, measured={"value": 2, "unit": "mm"}, tags=["weeps"], note="Säule\n2"
                ),
                could_not("mainsail", "aired"),
            ],
        },
    )
    for state in ("draft", "submitted"):
        made = ben.post(f"/viewings/{scene.viewing.id}/submissions", {"state": state, **body})
        read = ben.get(f"/submissions/{made.json()['id']}")
        assert (made.status_code, read.status_code) == (201, 200)
        assert made.json() == read.json()
        assert made["ETag"] == read["ETag"]


def test_ids_are_the_clients(scene, fresh_id):
    assert UUID(scene.posted(scene.cast.ben, id=str(fresh_id))["id"]) == fresh_id
