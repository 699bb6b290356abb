"""Reasons to strike off are one table, with everything about each."""

from typing import Any, get_args, get_type_hints

import pytest

from apps.appraisal.api.shapes import AdviceSerializer
from apps.appraisal.board.strike_off import REASONS, in_short
from apps.appraisal.stored import parts
from apps.reckoning import reasons

# How a reason's code and its stored shape belong together.
SHAPES = {get_args(get_type_hints(one)["code"])[0]: one for one in get_args(parts.Advice)}


def test_each_reason_of_the_reckoning_has_one_entry():
    assert [one.code for one in get_args(reasons.Advice)] == list(REASONS)
    assert REASONS.keys() == SHAPES.keys()
    assert all(code == reason.found.code for code, reason in REASONS.items())


@pytest.mark.parametrize("code", REASONS)
def test_the_schema_names_what_is_stored(code):
    """Except `is`, her own value for a broken must, which was never in the schema."""
    stored = SHAPES[code].__annotations__.keys() - {"code", "is"}
    assert stored == REASONS[code].fields.keys()


def test_fields_that_reasons_share_are_the_same():
    seen: dict[str, Any] = {}
    for reason in REASONS.values():
        for name, field in reason.fields.items():
            assert seen.setdefault(name, field) is field
    assert AdviceSerializer().fields.keys() == {"code", "sentence", *seen}


def test_a_notification_says_each_in_short_and_an_old_one_by_its_code():
    assert len({in_short(code) for code in REASONS}) == len(REASONS)
    assert in_short("too_far_away") == "too far away"
