"""Bodies that cannot be kept as they were sent are refused, each fault with its pointer."""

import json

import pytest
from django.test import Client
from rest_framework import serializers

from apps.exchange.http.bodies import StrictBody
from apps.exchange.http.problems import CONTENT_TYPE, flatten
from tests.conftest import pointers


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
    assert post(cast, json.dumps({"name": "a", "more": "x" * 9_900}), **headers).status_code == 201
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
