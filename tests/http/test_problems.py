"""Every refusal has the same shape, with JSON pointers to faulty fields."""

import pytest
from django.test import Client
from rest_framework import serializers

from apps.http.problems import CONTENT_TYPE, escape, flatten
from tests.conftest import Speaker

pytestmark = pytest.mark.django_db


class Inner(serializers.Serializer):
    level = serializers.IntegerField(max_value=4)


class Outer(serializers.Serializer):
    name = serializers.CharField()
    findings = Inner(many=True)
    tags = serializers.ListField(child=serializers.CharField(max_length=3), required=False)


def faults_of(body) -> dict[str, str]:
    outer = Outer(data=body)
    with pytest.raises(serializers.ValidationError) as caught:
        outer.is_valid(raise_exception=True)
    return {f.pointer: f.code for f in flatten(caught.value.get_full_details())}


def test_nested_fields_are_pointed_to():
    body = {"findings": [{"level": 1}, {"level": 9}, {}], "tags": ["abc", "long"]}
    assert faults_of(body) == {
        "/name": "required",
        "/findings/1/level": "max_value",
        "/findings/2/level": "required",
        "/tags/1": "max_length",
    }


def test_names_are_escaped():
    # RFC 6901 section 3: "~" becomes "~0" and "/" becomes "~1".
    assert escape("a/b~c") == "a~1b~0c"


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/api/v1/nothing-here", 404),
        ("GET", "/nothing-here", 404),
        ("PUT", "/api/v1/groups", 401),
        ("POST", "/api/v1/sessions", 422),
    ],
)
def test_problem_details_everywhere(method, path, status):
    refused = Speaker(None).send(method, path, {})
    assert refused.status_code == status
    assert refused["Content-Type"] == CONTENT_TYPE
    assert {"type", "title", "status", "code", "detail"} <= set(refused.json())


def test_unreadable_body(cast):
    refused = cast.ola.post("/groups", "{not json")
    assert (refused.status_code, refused["Content-Type"]) == (400, CONTENT_TYPE)


def test_other_media_type(cast):
    refused = Client().post(
        "/api/v1/groups",
        data="name=x",
        content_type="application/x-www-form-urlencoded",
        headers={"Authorization": f"Bearer {cast.ola.secret}"},
    )
    assert refused.status_code == 415


@pytest.mark.parametrize("path", ["/groups", "/groups?limit=1", "/groups?nonsense=1"])
def test_wrong_method(cast, path):
    for method in ("DELETE", "TRACE"):
        refused = cast.ola.send(method, path)
        assert (refused.status_code, refused["Allow"]) == (405, "GET, POST, HEAD, OPTIONS")
