"""Webhooks by the API: a group's organisers manage them, and nobody else sees them."""

import uuid

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from apps.common.encryption import decrypt
from apps.events.models import Delivery, Event, Webhook
from apps.events.webhooks.kinds import KINDS
from apps.events.webhooks.services import MOST_WEBHOOKS
from tests.conftest import pointers
from tests.events.test_changes import happen

URL = "https://hooks.example.org/tern"


@pytest.fixture
def path(cast) -> str:
    return f"/groups/{cast.group.id}/webhooks"


@pytest.fixture
def made(cast, path) -> dict:
    return cast.ola.post(path, {"url": URL}).json()


@pytest.fixture
def at(made) -> str:
    return f"/webhooks/{made['id']}"


def failed(made: dict, count: int = 1) -> list[Delivery]:
    return [
        Delivery.objects.create(
            webhook_id=made["id"], kind="quote.added", body="{}", state="failed"
        )
        for _ in range(count)
    ]


def test_it_works(cast, path):
    answer = cast.ola.post(path, {"url": URL, "note": "our board", "kinds": ["results.ready"]})
    assert answer.status_code == 201, answer.content
    made = answer.json()
    assert made["secret"].startswith("whsec_")
    assert (made["url"], made["note"], made["kinds"]) == (URL, "our board", ["results.ready"])
    assert (made["enabled"], made["stopped_because"], made["failures"]) == (True, "", 0)
    shown = cast.ola.get(f"/webhooks/{made['id']}")
    assert shown["ETag"] == answer["ETag"]
    assert shown.json() == {name: made[name] for name in made if name != "secret"}
    listed = cast.ola.get(path).json()["results"]
    assert listed == [shown.json()]


def test_its_secret_is_encrypted_at_rest(made):
    stored = Webhook.objects.get(pk=made["id"])
    assert made["secret"] not in stored.secret
    assert made["secret"].removeprefix("whsec_") not in stored.secret
    assert decrypt(stored.secret) == made["secret"]


def test_a_repeat_makes_no_second_one_and_does_not_tell_the_secret(cast, path):
    key = {"Idempotency_Key": "once"}
    first = cast.ola.post(path, {"url": URL}, **key).json()
    again = cast.ola.post(path, {"url": URL}, **key).json()
    assert again == {**first, "secret": None}
    assert Webhook.objects.count() == 1


def test_it_may_bring_its_id(cast, path, fresh_id):
    assert cast.ola.post(path, {"url": URL, "id": fresh_id}).json()["id"] == str(fresh_id)
    again = cast.ola.post(path, {"url": URL, "id": fresh_id})
    assert (again.status_code, again.json()["code"]) == (409, "id_taken")


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({}, "/url"),
        ({"url": "http://hooks.example.org/"}, "/url"),
        ({"url": "https://10.0.0.1/"}, "/url"),
        ({"url": "https://0x7f.1/"}, "/url"),
        ({"url": "https://" + "a" * 500}, "/url"),
        ({"url": URL, "kinds": ["results.ready", "no.such"]}, "/kinds/1"),
        ({"url": URL, "kinds": "results.ready"}, "/kinds"),
        ({"url": URL, "note": "x" * 201}, "/note"),
        ({"url": URL, "id": "123"}, "/id"),
    ],
)
def test_what_cannot_be_accepted_is_pointed_to(cast, path, body, pointer):
    assert pointers(cast.ola.post(path, body)) == {pointer}
    assert not Webhook.objects.exists()


def test_a_group_has_only_so_many(cast, path):
    for _ in range(MOST_WEBHOOKS):
        assert cast.ola.post(path, {"url": URL}).status_code == 201
    refused = cast.ola.post(path, {"url": URL})
    assert (refused.status_code, refused.json()["code"]) == (409, "too_many_webhooks")
    assert Webhook.objects.count() == MOST_WEBHOOKS


# --- Who may -------------------------------------------------------------------------------------


def every_call(who, path, at, delivery):
    etag = {"If_Match": '"x"'}
    yield who.get(path)
    yield who.post(path, {"url": URL})
    yield who.get(at)
    yield who.patch(at, {"note": "mine"}, **etag)
    yield who.delete(at, **etag)
    yield who.post(f"{at}/rotations")
    yield who.post(f"{at}/trials")
    yield who.get(f"{at}/deliveries")
    yield who.get(f"/deliveries/{delivery.pk}")
    yield who.post(f"/deliveries/{delivery.pk}/resends")


@pytest.mark.parametrize(
    ("name", "status"),
    [("nobody", 401), ("sten", 404), ("wim", 404), ("ivy", 403), ("hal", 403), ("ben", 403)],
)
def test_only_organisers_may(cast, path, at, made, name, status):
    (delivery,) = failed(made)
    before = Webhook.objects.values().get()
    for refused in every_call(getattr(cast, name), path, at, delivery):
        assert refused.status_code == status
        assert "hooks.example.org" not in refused.content.decode()
        if status == 403:
            assert refused.json()["roles"] == ["organiser"]
    assert Webhook.objects.values().get() == before


# --- Changing ------------------------------------------------------------------------------------


def test_change(cast, at):
    other = "https://elsewhere.example.org/"
    changed = cast.ola.change("PATCH", at, {"url": other, "kinds": ["quote.added"], "note": ""})
    assert changed.status_code == 200
    body = changed.json()
    assert (body["url"], body["kinds"], body["version"]) == (other, ["quote.added"], 2)
    assert "secret" not in body


def test_stop_and_start(cast, at, made):
    (waiting,) = failed(made)
    Delivery.objects.filter(pk=waiting.pk).update(state="waiting", due_at="2026-01-01T00:00Z")
    stopped = cast.ola.change("PATCH", at, {"enabled": False}).json()
    assert (stopped["enabled"], stopped["stopped_because"]) == (False, "by_hand")
    waiting.refresh_from_db()
    assert (waiting.state, waiting.due_at) == ("failed", None)
    happen(cast.group, "quote.added")
    assert Delivery.objects.count() == 1
    Webhook.objects.update(attempts=7)
    started = cast.ola.change("PATCH", at, {"enabled": True}).json()
    assert (started["enabled"], started["stopped_because"], started["failures"]) == (True, "", 0)
    happen(cast.group, "quote.added")
    assert Delivery.objects.count() == 2


@pytest.mark.parametrize("method", ["PATCH", "DELETE"])
def test_an_edit_of_what_changed_meanwhile_is_refused(cast, at, method):
    etag = cast.ola.get(at)["ETag"]
    cast.ola.change("PATCH", at, {"note": "changed"})
    assert cast.ola.send(method, at, {"note": "late"}, If_Match=etag).status_code == 412
    assert cast.ola.send(method, at, {"note": "late"}).status_code == 428
    assert Webhook.objects.get().note == "changed"


@pytest.mark.parametrize(
    ("body", "pointer"),
    [({}, ""), ({"url": "https://[::1]/"}, "/url"), ({"enabled": "perhaps"}, "/enabled")],
)
def test_a_bad_change_is_pointed_to(cast, at, body, pointer):
    assert pointers(cast.ola.change("PATCH", at, body)) == {pointer}


def test_delete(cast, at, made):
    failed(made)
    assert cast.ola.change("DELETE", at).status_code == 204
    assert cast.ola.get(at).status_code == 404
    assert not Webhook.objects.exists()
    assert not Delivery.objects.exists()


def test_what_is_done_to_webhooks_shows_in_the_change_feed(cast, at):
    cast.ola.change("PATCH", at, {"note": "changed"})
    cast.ola.post(f"{at}/rotations")
    cast.ola.change("DELETE", at)
    events = Event.objects.filter(thing="webhook")
    assert list(events.values_list("kind", "thing_version", "deleted", "by")) == [
        ("webhook.added", 1, False, cast.ola.person.pk),
        ("webhook.changed", 2, False, cast.ola.person.pk),
        ("webhook.secret_rotated", 3, False, cast.ola.person.pk),
        ("webhook.deleted", 3, True, cast.ola.person.pk),
    ]


# --- Secrets -------------------------------------------------------------------------------------


def test_a_rotation_gives_another_secret(cast, at, made):
    rotated = cast.ola.post(f"{at}/rotations")
    assert rotated.status_code == 201
    assert rotated.json()["secret"] != made["secret"]
    assert rotated.json()["old_secret_until"] is not None
    stored = Webhook.objects.get()
    assert decrypt(stored.secret) == rotated.json()["secret"]
    assert decrypt(stored.old_secret) == made["secret"]


def test_a_secret_found_out_is_dropped_at_once(cast, at):
    rotated = cast.ola.post(f"{at}/rotations", {"keep_old_hours": 0}).json()
    assert rotated["old_secret_until"] is None
    assert Webhook.objects.get().old_secret == ""


@pytest.mark.parametrize("hours", [-1, 169, "x"])
def test_an_old_secret_is_kept_within_bounds(cast, at, hours):
    refused = cast.ola.post(f"{at}/rotations", {"keep_old_hours": hours})
    assert pointers(refused) == {"/keep_old_hours"}


# --- Messages ------------------------------------------------------------------------------------


def test_each_event_is_written_for_each_webhook_that_wants_it(cast, path, made):
    quotes = cast.ola.post(path, {"url": URL, "kinds": ["quote.added"]}).json()
    wims = cast.wim.post(f"/groups/{cast.other_group.id}/webhooks", {"url": URL}).json()
    quote = happen(cast.group, "quote.added", facts={"of": "x"}, by_id=cast.ben.person.id)
    happen(cast.group, "results.ready")
    happen(cast.group, "no_such.kind")
    happen(cast.group, "quote.added", only_for=cast.ben.person.id)

    def kinds(webhook):
        found = Delivery.objects.filter(webhook=webhook["id"]).order_by("pk")
        return list(found.values_list("kind", flat=True))

    assert kinds(made) == ["quote.added", "results.ready"]
    assert kinds(quotes) == ["quote.added"]
    assert kinds(wims) == []
    listed = cast.ola.get(f"/webhooks/{quotes['id']}/deliveries").json()["results"]
    assert listed[0]["message"] == {
        "type": "quote.added",
        "timestamp": listed[0]["message"]["timestamp"],
        "data": {
            "group": str(cast.group.id),
            "number": quote.number,
            "thing": "quote",
            "thing_id": str(quote.thing_id),
            "thing_version": 1,
            "deleted": False,
            "by": str(cast.ben.person.id),
            "facts": {"of": "x"},
        },
    }


def test_an_event_undone_leaves_no_message(cast, made):
    with transaction.atomic():
        happen(cast.group, "quote.added")
        assert Delivery.objects.count() == 1
        transaction.set_rollback(True)
    assert not Delivery.objects.exists()


def test_deliveries_are_listed_by_state_and_in_pages(cast, at, made):
    failed(made, 3)
    happen(cast.group, "quote.added")
    states = [row["state"] for row in cast.ola.get(f"{at}/deliveries").json()["results"]]
    assert states == ["failed"] * 3 + ["waiting"]
    page = cast.ola.get(f"{at}/deliveries?state=failed&limit=2").json()
    assert len(page["results"]) == 2
    rest = cast.ola.get(page["next"].removeprefix("http://testserver")).json()
    assert ([row["state"] for row in rest["results"]], rest["next"]) == (["failed"], None)
    assert pointers(cast.ola.get(f"{at}/deliveries?state=lost")) == {"?state"}


def test_lists_take_constant_queries(cast, path, at, made):
    def queries(url: str) -> int:
        with CaptureQueriesContext(connection) as asked:
            assert cast.ola.get(url).status_code == 200
        return len(asked)

    (one,) = failed(made)
    one.attempts.create(status=500, seconds=0.1)
    with_one = [queries(path), queries(f"{at}/deliveries")]
    cast.ola.post(path, {"url": URL})
    for delivery in failed(made, 5):
        delivery.attempts.create(status=500, seconds=0.1)
        delivery.attempts.create(error="timed_out", seconds=20)
    assert [queries(path), queries(f"{at}/deliveries")] == with_one


def test_a_trial_writes_a_message_about_nothing(cast, at, made):
    tried = cast.ola.post(f"{at}/trials")
    assert tried.status_code == 201, tried.content
    delivery = tried.json()
    assert (delivery["state"], delivery["kind"], delivery["attempts"]) == (
        "waiting",
        "webhook.trial",
        [],
    )
    assert delivery["message"]["data"] == {"group": str(cast.group.id), "webhook": made["id"]}
    assert cast.ola.get(f"/deliveries/{delivery['id']}").json() == delivery
    assert not Event.objects.filter(kind="webhook.trial").exists()


def test_resend(cast, made):
    (dead,) = failed(made)
    Delivery.objects.update(tries=10)
    again = cast.ola.post(f"/deliveries/{dead.pk}/resends")
    assert again.status_code == 201
    body = again.json()
    assert (body["id"], body["state"], body["tries"]) == (str(dead.pk), "waiting", 0)
    assert body["due_at"] is not None
    refused = cast.ola.post(f"/deliveries/{dead.pk}/resends")
    assert (refused.status_code, refused.json()["code"]) == (409, "waiting_already")


def test_nothing_is_tried_or_resent_while_stopped(cast, at, made):
    (dead,) = failed(made)
    cast.ola.change("PATCH", at, {"enabled": False})
    for refused in (cast.ola.post(f"{at}/trials"), cast.ola.post(f"/deliveries/{dead.pk}/resends")):
        assert (refused.status_code, refused.json()["code"]) == (409, "stopped")


def test_what_is_not_there_is_not_found(cast):
    gone = uuid.uuid4()
    for answer in every_call(
        cast.ola, f"/groups/{gone}/webhooks", f"/webhooks/{gone}", Delivery(pk=gone)
    ):
        assert answer.status_code == 404


def test_every_kind_on_offer_is_told_somewhere(settings):
    """A name that no code records would be an empty promise."""
    source = "".join(
        path.read_text()
        for path in (settings.BASE_DIR / "apps").rglob("*.py")
        if path.name != "kinds.py"
    )
    assert [kind for kind in KINDS if f'"{kind}"' not in source] == []
