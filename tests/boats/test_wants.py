"""Members' wants."""

import pytest

from apps.boats.models import Want
from tests.boats.conftest import events, queries_of, revision
from tests.conftest import pointers

SHALLOW = {
    "kind": "must",
    "subject": "particular",
    "key": "draught_m",
    "test": "at_most",
    "value": 1.6,
    "text": "our berth dries to that",
}
FREE = {"kind": "weight", "weight": 3, "subject": "free", "text": "a galley one can cook in"}


def post(cast, list_id, who="ben", headers=None, want=SHALLOW, **changed):
    body = {name: value for name, value in {**want, **changed}.items() if value is not ...}
    return getattr(cast, who).post(f"/lists/{list_id}/wants", body, **(headers or {}))


def test_it_works(cast, list_id):
    before = revision(list_id)
    made = post(cast, list_id)
    assert made.status_code == 201, made.content
    read = cast.ivy.get(f"/wants/{made.json()['id']}")
    assert read.json() == made.json()
    assert read["ETag"] == made["ETag"]
    assert {name: read.json()[name] for name in SHALLOW} == SHALLOW
    assert read.json()["person"]["name"] == "Ben"
    assert revision(list_id) == before + 1
    assert events(cast.group.id)[-1] == "want.added"


@pytest.mark.parametrize(
    "want",
    [
        FREE,
        {**SHALLOW, "subject": "ratio", "key": "capsize_screening", "value": 2},
        {**SHALLOW, "subject": "checkpoint", "key": "engine-access", "value": 1},
        {**SHALLOW, "key": "build_year", "test": "at_least", "value": 1980},
        {**SHALLOW, "key": "keel", "test": "one_of", "value": ["full", "encapsulated"]},
    ],
)
def test_every_subject(cast, list_id, want):
    made = post(cast, list_id, want=want)
    assert made.status_code == 201, made.content
    assert {name: made.json()[name] for name in want} == want


def test_everybody_sees_everybodys(cast, list_id):
    post(cast, list_id)
    post(cast, list_id, "bea", want=FREE)
    rows = cast.hal.get(f"/lists/{list_id}/wants").json()["results"]
    assert [row["person"]["name"] for row in rows] == ["Ben", "Bea"]
    assert rows[1]["test"] is None


def test_in_feet(cast, list_id):
    made = post(cast, list_id, key="draught_ft", value=5)
    assert made.json()["key"] == "draught_m"
    assert made.json()["value"] == pytest.approx(1.524, rel=1e-12)  # 5 x 0.3048 m, exact
    shown = cast.ben.get(f"/wants/{made.json()['id']}?units=imperial").json()
    assert (shown["key"], shown["value"]) == ("draught_ft", 5)
    (row,) = cast.ben.get(f"/lists/{list_id}/wants?units=imperial").json()["results"]
    assert (row["key"], row["value"]) == ("draught_ft", 5)


@pytest.mark.parametrize(
    ("wrong", "at"),
    [
        ({"kind": "maybe"}, "/kind"),
        ({"weight": 3}, "/weight"),  # a must has none
        ({"kind": "weight", "weight": 6}, "/weight"),
        ({"subject": "colour"}, "/subject"),
        ({"key": "colour"}, "/key"),
        ({"key": ...}, "/key"),
        ({"subject": "ratio"}, "/key"),
        ({"test": "one_of"}, "/test"),
        ({"test": ...}, "/test"),
        ({"value": ...}, "/value"),
        ({"value": "shallow"}, "/value"),
        ({"value": ["full"]}, "/value"),
        ({"value": True}, "/value"),
        ({"value": -1}, "/value"),
        ({"value": 10**400}, "/value"),
        ({"key": "keel", "test": "one_of", "value": 3}, "/value"),
        ({"key": "keel", "test": "one_of", "value": []}, "/value"),
        ({"key": "keel", "test": "one_of", "value": ["full", "glass"]}, "/value/1"),
        ({"key": "keel", "test": "at_most", "value": ["full"]}, "/test"),
        ({"subject": "checkpoint", "key": "engine-access", "value": 5}, "/value"),
        ({"text": "x" * 301}, "/text"),
        ({"wish": "x"}, "/wish"),
    ],
)
def test_bad_fields_are_named(cast, list_id, wrong, at):
    assert pointers(post(cast, list_id, **wrong)) == {at}
    assert not Want.objects.exists()


def test_a_free_want_has_words_only(cast, list_id):
    assert pointers(post(cast, list_id, want=FREE, text=...)) == {"/text"}
    refused = post(cast, list_id, want=FREE, key="loa_m", test="at_most", value=9)
    assert pointers(refused) == {"/key", "/test", "/value"}


def change(cast, list_id, body, who="ben"):
    path = f"/wants/{post(cast, list_id).json()['id']}"
    return getattr(cast, who).change("PATCH", path, body)


def test_change(cast, list_id):
    changed = change(cast, list_id, {"value": 1.8})
    assert changed.status_code == 200, changed.content
    assert (changed.json()["value"], changed.json()["key"]) == (1.8, "draught_m")
    assert events(cast.group.id)[-1] == "want.changed"


def test_a_change_must_leave_sense(cast, list_id):
    assert pointers(change(cast, list_id, {"key": "keel"})) == {"/test", "/value"}
    assert pointers(change(cast, list_id, {"key": "beam_ft"})) == {"/value"}


def test_withdraw(cast, list_id):
    path = f"/wants/{post(cast, list_id).json()['id']}"
    before = revision(list_id)
    assert cast.ben.change("DELETE", path).status_code == 204
    assert cast.ben.get(path).status_code == 404
    assert revision(list_id) == before + 1
    assert events(cast.group.id)[-1] == "want.withdrawn"


@pytest.mark.parametrize("who", ["bea", "ola"])
def test_only_its_owner_changes_it(cast, list_id, who):
    path = f"/wants/{post(cast, list_id).json()['id']}"
    assert getattr(cast, who).change("PATCH", path, {"value": 3}).status_code == 403
    assert getattr(cast, who).change("DELETE", path).status_code == 403
    assert Want.objects.get().value == 1.6


def test_stale_and_missing_versions(cast, list_id):
    made = post(cast, list_id)
    path = f"/wants/{made.json()['id']}"
    assert cast.ben.patch(path, {"value": 1.7}, If_Match=made["ETag"]).status_code == 200
    for method, body in (("PATCH", {"value": 1.9}), ("DELETE", None)):
        assert cast.ben.send(method, path, body, If_Match=made["ETag"]).status_code == 412
        assert cast.ben.send(method, path, body).status_code == 428
    assert Want.objects.get().value == 1.7


def test_it_does_not_exist_for_strangers(cast, list_id):
    path = f"/wants/{post(cast, list_id).json()['id']}"
    for stranger in ("sten", "wim"):
        assert post(cast, list_id, stranger).status_code == 404
        who = getattr(cast, stranger)
        assert who.get(f"/lists/{list_id}/wants").status_code == 404
        assert who.get(path).status_code == 404
        assert who.patch(path, {"value": 1}).status_code == 404
        assert who.delete(path).status_code == 404


@pytest.mark.parametrize("who", ["ivy", "hal"])
def test_only_who_buys_wants(cast, list_id, who):
    assert post(cast, list_id, who).status_code == 403


def test_an_organiser_who_does_not_buy(cast, list_id):
    cast.group.memberships.filter(person=cast.ola.person).update(buys=False)
    assert post(cast, list_id, "ola").status_code == 403


def test_a_repeat_is_answered_once(cast, list_id):
    first = post(cast, list_id, headers={"Idempotency_Key": "k1"})
    again = post(cast, list_id, headers={"Idempotency_Key": "k1"})
    assert again.json() == first.json()
    assert Want.objects.count() == 1


def test_constant_queries(cast, list_id):
    path = f"/lists/{list_id}/wants"
    post(cast, list_id)
    one = queries_of(lambda: cast.ivy.get(path))
    for who in ("ben", "bea", "ola"):
        post(cast, list_id, who, want=FREE)
    assert queries_of(lambda: cast.ivy.get(path)) == one == 3  # token, list, wants
