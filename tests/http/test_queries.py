"""Query strings: what is not sent has its default, whatever was done with an earlier one."""

import pytest
from django.http import QueryDict
from rest_framework import serializers

from apps.common.errors import Invalid
from apps.http.queries import query_read


class AskedQuery(serializers.Serializer):
    limit = serializers.IntegerField(default=50, max_value=100)
    kinds = serializers.ListField(default=["all"])


class NeededQuery(serializers.Serializer):
    code = serializers.CharField()


def test_it_works():
    assert query_read(AskedQuery, QueryDict("limit=7")) == {"limit": 7, "kinds": ["all"]}
    assert query_read(None, QueryDict()) == {}


def test_defaults_are_as_they_were_whatever_was_done_with_the_last_ones():
    query_read(AskedQuery, QueryDict())["kinds"].append("more")
    assert query_read(AskedQuery, QueryDict()) == {"limit": 50, "kinds": ["all"]}


@pytest.mark.parametrize(
    ("asked", "sent", "pointer", "code"),
    [
        (AskedQuery, "limit=101", "?limit", "max_value"),
        (AskedQuery, "other=1", "?other", "unknown_parameter"),
        (None, "other=1", "?other", "unknown_parameter"),
        (NeededQuery, "", "?code", "required"),
    ],
)
def test_what_is_refused_is_pointed_to(asked, sent, pointer, code):
    for _ in range(2):
        with pytest.raises(Invalid) as refused:
            query_read(asked, QueryDict(sent))
        (fault,) = refused.value.faults
        assert (fault.pointer, fault.code) == (pointer, code)
