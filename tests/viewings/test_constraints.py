"""The constraints in the database."""

import pytest
from django.db import IntegrityError, transaction

from apps.viewings.models import Finding
from tests.viewings.conftest import look


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "looked", "level": None},
        {"kind": "looked", "level": 5},
        {"kind": "could_not_look", "level": None, "reason": ""},
        {"kind": "could_not_look", "level": 0, "reason": "locked"},
        {"kind": "does_not_apply", "level": 1},
    ],
)
def test_a_finding_says_a_level_or_why_not(scene, wrong):
    scene.posted(scene.cast.ben, look("joint", 1))
    with pytest.raises(IntegrityError), transaction.atomic():
        Finding.objects.update(**wrong)
