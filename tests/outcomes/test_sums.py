"""The sums of surveys, of the quick looks before them, and of bills over estimates."""

import math

import pytest

from apps.catalogue.selectors import catalogue_snapshot
from apps.outcomes.estimates import COUNTS_GROW, estimate_of
from apps.outcomes.gathering import shared_in
from apps.outcomes.models import OutcomesFigure
from apps.outcomes.services import RefreshTurn
from apps.reckoning.outcomes import share_of
from tests.outcomes.building import CODE, REMEDY, Harbour


def test_it_works(harbour):
    for group, level in zip(harbour.groups, (4, 3, 2, 1, 0), strict=True):
        group.surveyed(level, looks=(1, 3) if level >= 3 else (0,))
        group.surveyed(1)
    # Fewer than four groups have boats that were in trouble, and fewer than four that were not.
    assert harbour.experience() == RefreshTurn(disclosed=2, given=5)
    found = harbour.figure("found")
    assert (found.groups, found.boats) == (5, 10)
    assert found.figure == pytest.approx(0.2)
    expected = share_of(2, 10)
    assert (found.low, found.high) == pytest.approx((expected.low, expected.high))
    assert 0.0 < found.expected < 0.2
    difference = harbour.figure("difference")
    # (2 - 4), (2 - 3), (0 - 2), (0 - 1), (0 - 0) over the five boats that anybody had looked at.
    assert difference.figure == pytest.approx(-1.2)
    assert (difference.groups, difference.boats) == (5, 5)


def test_what_quick_looks_had_told(harbour):
    for group in harbour.groups:
        group.surveyed(3, looks=(1, 4))  # one of two is enough to tell it
        group.surveyed(4, looks=(2,))
        group.surveyed(1, looks=(0, 2))
        group.surveyed(3)  # nobody had looked: that is neither told nor missed
    harbour.experience()
    caught, cleared = harbour.figure("caught"), harbour.figure("cleared")
    assert (caught.boats, caught.figure) == (10, 0.5)
    assert (cleared.boats, cleared.figure) == (5, 1.0)
    assert harbour.figure("found").boats == 20


def test_could_not_look_is_no_look(harbour):
    for group in harbour.groups:
        boat = group.surveyed(3)
        look = group.looked(boat, {}, days_ago=4)
        look.findings.create(
            checkpoint_id=CODE,
            checkpoint_version_id=catalogue_snapshot().checkpoint_version_ids[CODE],
            kind="could_not_look",
            reason="covered",
        )
    harbour.experience()
    assert harbour.figure("caught") is None
    assert harbour.figure("found").boats == 5


def test_looks_after_the_survey_do_not_count(harbour):
    for group in harbour.groups:
        boat = group.surveyed(3)
        group.looked(boat, {CODE: 4}, days_ago=0.5)
    harbour.experience()
    assert harbour.figure("caught") is None


def test_of_two_surveys_the_later_counts(harbour):
    for group in harbour.groups:
        boat = group.surveyed(4, looks=(3,))
        group.looked(boat, {CODE: 1}, professional=True, days_ago=0.2)
    harbour.experience()
    assert harbour.figure("found").figure == 0.0


def test_what_was_superseded_or_is_a_draft_does_not_count(harbour):
    for group in harbour.groups:
        boat = group.surveyed(1)
        draft = group.looked(boat, {CODE: 4}, professional=True, days_ago=0.1)
        type(draft).objects.filter(pk=draft.pk).update(state="draft", submitted_at=None)
    harbour.experience()
    assert harbour.figure("found").figure == 0.0


# --- Bills ---------------------------------------------------------------------------------------


def estimate(harbour: Harbour, boat, **options) -> float:
    shared = shared_in(harbour.club.pk)
    given = {"code": REMEDY, "levels": {}, "year": 2024, "with_enabling": False, **options}
    return estimate_of(shared.boats[boat.pk], shared.snapshot.catalogue, **given)


def test_bills_are_held_against_the_estimate(harbour):
    for group in harbour.groups:
        boat = group.boat()
        group.billed(boat, 1.5 * estimate(harbour, boat))
    assert harbour.experience() == RefreshTurn(disclosed=1, given=5)
    cost = harbour.figure("cost")
    assert cost.figure == pytest.approx(1.5, rel=1e-4)
    assert cost.low < 1.5 < cost.high
    assert (cost.groups, cost.boats) == (5, 5)


def test_the_estimate_is_scaled_to_the_boat_and_the_money(harbour):
    group = harbour.groups[0]
    boat, longer = group.boat(loa_m=10.0), group.boat(loa_m=12.0)
    remedy = catalogue_snapshot().catalogue.remedies[REMEDY]
    basis = catalogue_snapshot().catalogue.money
    yard = float(group.yard.list.yard_hourly_rate)
    by_hand = remedy.hours.mean * yard + remedy.parts.mean * basis.price_ratio(2024)
    assert estimate(harbour, boat) == pytest.approx(by_hand)
    longer_costs = 1.2 ** (remedy.loa_exponent + COUNTS_GROW)  # a bulkhead is counted
    assert estimate(harbour, longer) == pytest.approx(by_hand * longer_costs)
    index = remedy.hours.mean * yard + remedy.parts.mean * basis.price_ratio(2020)
    assert estimate(harbour, boat, year=2020) == pytest.approx(index)
    assert estimate(harbour, boat, with_enabling=True) >= by_hand
    group.yard.list.exchange_rates = {"USD": "0.8"}
    group.yard.list.currency = "EUR"
    group.yard.list.save()
    in_euros = remedy.hours.mean * yard + 0.8 * remedy.parts.mean * basis.price_ratio(2024)
    assert estimate(harbour, boat) == pytest.approx(in_euros)


def test_the_estimate_is_for_as_much_as_the_level_calls_for(harbour):
    catalogue = catalogue_snapshot().catalogue
    checkpoint, trigger = next(
        (checkpoint, trigger)
        for checkpoint in catalogue.checkpoints.values()
        for trigger in checkpoint.remedies
        if trigger.extent[3] not in (0, 1) and trigger.probability[3] > 0 and not trigger.extent[0]
    )
    boat = harbour.groups[0].boat()

    once, sound, defective = (
        estimate(harbour, boat, code=trigger.code, levels=levels)
        for levels in ({}, {checkpoint.code: 0}, {checkpoint.code: 3})
    )
    assert defective == pytest.approx(trigger.extent[3] * once)
    assert sound == once


def test_bills_that_cannot_be_compared_are_left_out(harbour):
    for group in harbour.groups:
        amount = estimate(harbour, group.boat())
        group.billed(group.boat(), 9 * amount, done_by="own")
        group.billed(group.boat(), 0)
        group.billed(group.boat(loa_m=None, lwl_m=None), 9 * amount)
        group.billed(group.boat(), 9 * amount, currency="NOK")
        withdrawn = group.billed(group.boat(), 9 * amount)
        type(withdrawn).objects.filter(pk=withdrawn.pk).update(withdrawn_at=withdrawn.created_at)
    harbour.experience()
    assert harbour.figure("cost") is None


def test_several_bills_for_one_remedy_are_one_sum(harbour):
    for group in harbour.groups:
        boat = group.boat()
        for _ in range(2):
            group.billed(boat, estimate(harbour, boat))
    harbour.experience()
    assert (harbour.figure("cost").boats, harbour.figure("cost").figure) == (
        5,
        pytest.approx(2.0, rel=1e-4),
    )


def test_a_bill_of_something_else_counts_as_so_far_and_no_further(harbour):
    for group in harbour.groups:
        boat = group.boat()
        group.billed(boat, 1000 * estimate(harbour, boat))
    harbour.experience()
    assert harbour.figure("cost").figure == pytest.approx(20.0)


# --- How it is read ------------------------------------------------------------------------------


def test_queries_do_not_depend_on_how_much_there_is(harbour, django_assert_max_num_queries):
    harbour.groups[0].surveyed(3, looks=(1,), bill=900)
    with django_assert_max_num_queries(9):
        shared_in(harbour.club.pk)
    for group in harbour.groups:
        for _ in range(4):
            group.surveyed(3, looks=(1, 2), bill=900)
    with django_assert_max_num_queries(9):
        assert len(shared_in(harbour.club.pk).surveyed) == 21


def test_the_same_outcomes_give_the_same_figures(harbour):
    for group in harbour.groups:
        group.surveyed(3, looks=(1,), bill=9000)
    harbour.experience()
    fields = ("table__kind", "table__subject", "by", "value", "figure", "low", "high", "expected")
    first = list(OutcomesFigure.objects.order_by(*fields[:4]).values_list(*fields))
    assert not any(math.isnan(value) for row in first for value in row[4:7])
    assert harbour.experience() == RefreshTurn()
    harbour.club.outcomes_tables.all().delete()
    type(harbour.club.club_outcomes).objects.update(digest="")
    harbour.experience()
    assert list(OutcomesFigure.objects.order_by(*fields[:4]).values_list(*fields)) == first
