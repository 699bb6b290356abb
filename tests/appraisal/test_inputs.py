"""Every setting of the brief is an input of the results, or named as none."""

import re
from dataclasses import fields

import pytest
from django.conf import settings

from apps.appraisal.compute.inputs import NOT_RECKONED, Brief
from apps.boats.api.list_serializers import BriefBody, BriefSerializer
from apps.boats.list_services import BRIEF

INPUTS = [field.name for field in fields(Brief)]


def test_each_setting_is_an_input_or_named_as_none():
    assert sorted([*INPUTS, *NOT_RECKONED]) == sorted(BRIEF)


@pytest.mark.parametrize("name", INPUTS)
def test_each_input_is_read(name):
    """Otherwise the board would be recomputed, say that it is fresh, and ignore the setting."""
    sources = (settings.BASE_DIR / "apps" / "appraisal").rglob("*.py")
    reads = re.compile(rf"\b(?:brief|self)\.{name}\b")
    assert any(reads.search(source.read_text()) for source in sources)


def test_each_setting_is_sent_and_shown():
    assert BriefBody().fields.keys() == set(BRIEF) == BriefSerializer().fields.keys()
