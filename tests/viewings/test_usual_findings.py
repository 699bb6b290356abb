"""Findings in the usual form are read as the fields of their body read them."""

import pytest
from rest_framework.exceptions import ValidationError

from apps.viewings.api.submission_serializers import FindingBody
from apps.viewings.api.usual_findings import USUAL, usual_finding
from apps.viewings.models import REASONS, Finding

VALUES = [
    *(None, True, 0, 1, 4, 5, -1, 1.0, float("nan"), "", "1", "x", " x", "x ", "a b", "blåskjell"),
    *("a\nb", "nul\0", "\ud800", "\u200b", "x" * 60, "x" * 61, "x" * 4000, "x" * 4001),
    *([], ["x"], ["x", ""], [" x"], [1], [None], ["x" * 61], ["x"] * 30, ["x"] * 31, {}, {"x": 1}),
    *(*Finding.Kind.values, *Finding.Sureness.values, *REASONS),
    *({"value": 2, "unit": "mm"}, {"value": "2", "unit": "mm"}),
]
BARE = {"checkpoint": "joint", "kind": "looked"}


def by_fields(sent):
    return super(FindingBody, FindingBody()).run_validation(sent)


@pytest.mark.parametrize("name", [*FindingBody().fields, "levle"])
def test_each_value_of_each_field(name):
    read = 0
    for value in VALUES:
        sent = {**BARE, name: value}
        if (usual := usual_finding(sent)) is not None:
            assert usual == by_fields(sent), value
            read += 1
    assert bool(read) == (name in USUAL)


@pytest.mark.parametrize("sent", [None, [], "joint", {}, {"kind": "looked"}, {"checkpoint": "x"}])
def test_what_is_no_finding_is_left_to_the_fields(sent):
    assert usual_finding(sent) is None
    with pytest.raises(ValidationError):
        by_fields(sent)


def test_the_usual_forms_take_the_short_way():
    for more in ({"level": 1}, {"level": None, "reason": "aired", "note": "Blåskjell?"}):
        assert usual_finding({**BARE, **more, "tags": ["weeps"], "measured": None})


def test_all_fields_are_known():
    assert USUAL.keys() == FindingBody().fields.keys()
