"""Bodies that cannot be stored as sent are refused, with a pointer to each fault."""

import json
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone
from rest_framework import serializers

from apps.http.bodies import StrictBody
from apps.http.problems import CONTENT_TYPE, flatten
from tests.conftest import pointers

DAY = timedelta(days=1)


def post(cast, body: str, **headers):
    return cast.ola.post("/groups", body, **headers)


@pytest.mark.parametrize("text", [r"\u0000", r"a\u0000b", r"\ud800", r"\udfff\ud800"])
def test_characters_that_no_database_keeps_are_refused(cast, text):
    assert pointers(post(cast, f'{{"name": "{text}"}}')) == {"/name"}


def test_a_surrogate_pair_is_one_character(cast):
    # RFC 8259 section 7: U+1D11E, the G clef, is written as a pair.
    made = post(cast, r'{"name": "\ud834\udd1e"}')
    assert (made.status_code, made.json()["name"]) == (201, "\U0001d11e")


def test_every_such_text_is_pointed_to_wherever_it_stands(cast):
    body = r'{"name": "a", "b/c": [1, "\u0000", {"d~": ["\ud800"]}], "\udc00": "\u0000"}'
    assert pointers(post(cast, body)) == {"/b~1c/1", "/b~1c/2/d~0/0", ""}


@pytest.mark.parametrize(
    "body",
    [
        '{"name": "a", "name": "b"}',  # RFC 7493 section 2.3
        '{"name": NaN}',
        '{"name": "a"',
        '{"name": "a\x01"}',
        "[" * 100_000 + "]" * 100_000,
        '{"name": ' * 40 + "1" + "}" * 40,
        '{"name": ' + "9" * 5000 + "}",
    ],
)
def test_what_is_not_json_to_everybody_cannot_be_read(cast, body):
    refused = post(cast, body)
    assert (refused.status_code, refused["Content-Type"]) == (400, CONTENT_TYPE)


def test_other_encodings_than_utf_8_cannot_be_read(cast):
    # RFC 8259 section 8.1: UTF-8, between systems that are not closed.
    for data in ('{"name": "a"}'.encode("utf-16"), b'{"name": "\xff"}'):
        refused = Client().post(
            "/api/v1/groups",
            data=data,
            content_type="application/json",
            headers={"Authorization": f"Bearer {cast.ola.secret}"},
        )
        assert refused.status_code == 400


@pytest.mark.parametrize("headers", [{}, {"Idempotency_Key": "large"}])
def test_a_body_beyond_the_bound_is_refused_as_too_large(cast, settings, headers):
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 10_000
    assert post(cast, '{"name": "a"' + " " * 9_900 + "}", **headers).status_code == 201
    refused = post(cast, json.dumps({"name": "a", "more": "x" * 10_000}), **headers)
    assert (refused.status_code, refused["Content-Type"]) == (413, CONTENT_TYPE)
    assert refused.json()["code"] == "too_large"


def test_a_body_in_chunks_is_not_taken_for_an_empty_one(cast):
    # RFC 9110 section 15.5.12: the server refuses the request without a Content-Length.
    refused = Client().generic(
        "POST",
        "/api/v1/groups",
        headers={"Authorization": f"Bearer {cast.ola.secret}", "Transfer-Encoding": "chunked"},
    )
    assert (refused.status_code, refused.json()["code"]) == (411, "length_required")


class Look(StrictBody):
    how = serializers.ChoiceField(["by_eye", "by_hand"])
    tags = serializers.ListField(child=serializers.ChoiceField(["wet", "dry"]), required=False)


class Looks(StrictBody):
    looks = Look(many=True)


def test_who_chooses_wrongly_is_told_what_there_is_to_choose():
    body = Looks(data={"looks": [{"how": "by_eye"}, {"how": "", "tags": ["wet", "damp"]}]})
    with pytest.raises(serializers.ValidationError) as caught:
        body.is_valid(raise_exception=True)
    assert {f.pointer: f.detail for f in flatten(caught.value.get_full_details())} == {
        "/looks/1/how": '"" is not a valid choice. One of: by_eye, by_hand.',
        "/looks/1/tags/1": '"damp" is not a valid choice. One of: wet, dry.',
    }


def test_an_operation_without_a_body_refuses_one(cast):
    token = cast.ola.post(
        "/tokens", {"name": "Script", "scopes": None, "expires_at": timezone.now() + DAY}
    ).json()
    at = f"/tokens/{token['id']}"
    assert pointers(cast.ola.send("DELETE", at, {"why": "lost"})) == {"/why"}
    refused = cast.ola.send("DELETE", at, ["lost"])
    assert (refused.status_code, refused.json()["errors"][0]["code"]) == (422, "no_body")
    assert cast.ola.send("DELETE", at, {}).status_code == 204, "nothing is said in that"


def test_what_was_refused_for_a_body_was_not_done(cast):
    group = cast.ola.post("/groups", {"name": "Dunlin"}).json()["id"]
    refused = cast.ola.post(f"/groups/{group}/exports", {"kind": "csv"}, Idempotency_Key="once")
    assert pointers(refused) == {"/kind"}
    assert cast.ola.get(f"/groups/{group}/exports").json()["results"] == []
    assert cast.ola.post(f"/groups/{group}/exports", {}, Idempotency_Key="once").status_code == 201


# RFC 9562, appendix A: a value of each version, and the nil one of section 5.9.
UUIDS = {
    1: "c232ab00-9414-11ec-b3c8-9f6bdeced846",
    3: "5df41881-3aed-3515-88a7-2f4a814cf09e",
    4: "919108f7-52d1-4320-9bac-f847db4148a8",
    5: "2ed6657d-e927-568b-95e1-2665a8aea6a2",
    6: "1ec9414c-232a-6b00-b3c8-9f6bdeced846",
    7: "017f22e2-79b0-7cc3-98c4-dc0c0c07398f",
    8: "2489e9ad-2ee2-8e00-8ec9-32d5f69181c0",
    None: "00000000-0000-0000-0000-000000000000",
}


@pytest.mark.parametrize("version", UUIDS)
def test_an_id_of_ones_own_is_a_uuid_of_version_7(cast, version):
    answer = cast.ola.post("/groups", {"id": UUIDS[version], "name": "Dunlin"})
    if version == 7:
        assert (answer.status_code, answer.json()["id"]) == (201, UUIDS[7])
        return
    assert pointers(answer) == {"/id"}
    assert answer.json()["errors"][0]["code"] == "uuid_version"
