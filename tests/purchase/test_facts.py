"""Which quote counts for a remedy on a candidate."""

from datetime import date

import pytest

from apps.purchase.facts import list_quotes
from apps.purchase.models import Quote

TODAY = date(2025, 5, 1)


@pytest.fixture
def noted(scene):
    def note(amount, dated_on, valid_until=None, boat=None, remedy="reseal", **more):
        return Quote.objects.create(
            candidate=boat or scene.heron,
            remedy_id=remedy,
            amount=amount,
            currency="EUR",
            firmness="fixed",
            from_whom="a yard",
            dated_on=dated_on,
            valid_until=valid_until,
            added_by=scene.cast.ben.person,
            **more,
        )

    return note


def amounts(scene):
    return [quote.amount for quote in list_quotes(scene.list.id, TODAY)]


def test_it_works(scene, noted):
    noted(1450, date(2025, 3, 20), date(2025, 5, 1), includes_enabling=True)
    (found,) = list_quotes(scene.list.id, TODAY)
    assert (found.candidate_id, found.remedy) == (scene.heron.id, "reseal")
    assert (found.amount, found.currency, found.fixed) == (1450.0, "EUR", True)
    assert (found.includes_enabling, found.expired) == (True, False)


def test_the_newest_counts(scene, noted):
    noted(1200, date(2025, 4, 1))
    noted(1100, date(2025, 3, 1))
    noted(1300, date(2025, 4, 1))
    assert amounts(scene) == [1300], "of one day the one noted last"


def test_a_valid_one_counts_before_a_newer_expired_one(scene, noted):
    noted(1200, date(2025, 1, 1))
    noted(1100, date(2025, 4, 1), date(2025, 4, 30))
    assert amounts(scene) == [1200]


def test_an_expired_one_is_better_than_none(scene, noted):
    noted(1100, date(2025, 1, 1), date(2025, 1, 31))
    noted(1200, date(2025, 2, 1), date(2025, 2, 28))
    (found,) = list_quotes(scene.list.id, TODAY)
    assert (found.amount, found.expired) == (1200, True)


def test_a_withdrawn_one_does_not_count(scene, noted):
    noted(1100, date(2025, 4, 1), withdrawn_at="2025-04-02T10:00:00Z")
    assert amounts(scene) == []


def test_one_for_each_candidate_and_remedy(scene, noted):
    noted(1, date(2025, 4, 1))
    noted(2, date(2025, 4, 1), remedy="rebed")
    noted(3, date(2025, 4, 1), boat=scene.dunlin)
    assert sorted(amounts(scene)) == [1, 2, 3]


def test_one_query_however_many(scene, noted, django_assert_num_queries):
    with django_assert_num_queries(1):
        assert amounts(scene) == []
    for day in range(1, 6):
        noted(1, date(2025, 4, day), remedy="reseal" if day % 2 else "rebed")
    with django_assert_num_queries(1):
        assert len(amounts(scene)) == 2
