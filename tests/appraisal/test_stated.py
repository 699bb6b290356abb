"""What a surveyor priced where he found something, in place of what the level alone calls for."""

import pytest
from django.utils import timezone

from apps.purchase.models import Quote
from tests.appraisal.building import surveyed

AT = "chainplates-below"
COST = {"low": "1600.00", "high": "3600.00", "currency": "USD"}
RENEW = {"cost": COST, "remedy": "renew-chainplates"}
REBED = {"cost": COST, "remedy": "rebed-chainplate"}


@pytest.fixture
def needed(spring, cast):
    """The chance that each remedy is needed on Petrel, as costs count it."""

    def read():
        spring.yard.recompute()
        path = f"/candidates/{spring.petrel.pk}/rollup"
        rows = cast.ben.get(path).json()["rollup"]["remedies"]
        return {row["remedy"]: row["probability"] for row in rows}

    return read


def test_another_remedy_of_the_checkpoint_is_not_counted_beside_it(spring, cast, needed):
    """At "tired" the catalogue calls for rebedding in 50 of 100: both would be counted."""
    surveyed(cast.ben, spring.petrel, {"checkpoint": AT, "level": 2})
    by_level = needed()["rebed-chainplate"]
    assert by_level > 0.3
    surveyed(cast.ben, spring.petrel, {"checkpoint": AT, "level": 2, **RENEW})
    priced = needed()
    assert priced["renew-chainplates"] == 1
    assert priced["rebed-chainplate"] < 0.1


def test_both_count_if_the_report_says_both(spring, cast, needed):
    both = {"checkpoint": AT, "level": 2, **RENEW}, {"words": "Rebed the others.", **REBED}
    surveyed(cast.ben, spring.petrel, *both)
    found = needed()
    assert (found["renew-chainplates"], found["rebed-chainplate"]) == (1, 1)


def test_a_price_in_words_alone_says_nothing_of_the_other_remedies(spring, cast, needed):
    found = {"checkpoint": AT, "level": 2}, {"words": "Renew the chainplates.", **RENEW}
    surveyed(cast.ben, spring.petrel, *found)
    assert needed()["rebed-chainplate"] > 0.3


def test_what_is_found_to_be_worse_since_counts(spring, cast, needed):
    """At a worse level than the one of the priced finding, the level decides again."""
    surveyed(cast.ben, spring.petrel, {"checkpoint": AT, "level": 2, **REBED})
    assert needed()["repair-bulkhead"] < 0.1
    surveyed(cast.ben, spring.petrel, {"checkpoint": AT, "level": 4})
    assert needed()["repair-bulkhead"] > 0.3


def test_a_withdrawn_price_stands_in_place_of_nothing(spring, cast, needed):
    surveyed(cast.ben, spring.petrel, {"checkpoint": AT, "level": 2, **RENEW})
    assert needed().get("rebed-chainplate", 0) < 0.1
    assert cast.ben.change("DELETE", f"/quotes/{Quote.objects.get().pk}").status_code == 204
    assert needed()["rebed-chainplate"] > 0.3


def test_once_it_is_put_right_the_levels_decide_again(spring, cast, needed):
    surveyed(cast.ben, spring.petrel, {"checkpoint": AT, "level": 4, **RENEW})
    before = needed()
    assert before["renew-chainplates"] == 1
    cleared = {
        "checkpoint": AT,
        "basis": "repair",
        "level": 1,
        "document": "The yard's invoice",
        "dated_on": timezone.localdate().isoformat(),
    }
    path = f"/candidates/{spring.petrel.pk}/clearances"
    answer = cast.ben.post(path, cleared)
    assert answer.status_code == 201, answer.content
    after = needed()
    assert after["renew-chainplates"] < 0.1
    # At "worn" in 10 of 100.
    assert after["rebed-chainplate"] > before["rebed-chainplate"] + 0.05
