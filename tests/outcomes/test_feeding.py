"""Adjustments of a group's lists by the statistics, never by its own data."""

import io

import numpy as np
import pytest
from django.core.management import call_command

from apps.appraisal.compute.arrays import list_arrays
from apps.appraisal.compute.inputs import read_inputs
from apps.appraisal.models import GroupPool
from apps.appraisal.pooling import pools
from apps.boats.models import Candidate
from apps.catalogue.ages import effective_age
from apps.catalogue.selectors import catalogue_snapshot
from apps.groups.models import Group
from apps.outcomes.feeding import outcomes_for, reference_prices, triggers_of
from apps.outcomes.models import GroupOutcomes
from apps.reckoning.priors import expected_levels
from tests.outcomes.building import CODE, REMEDY, Buyers, Harbour
from tests.outcomes.test_sums import estimate


@pytest.fixture
def tern(harbour) -> Buyers:
    return harbour.groups[0]


def worse(harbour: Harbour, boats: int = 2, level: int = 4, **particulars) -> None:
    """Surveys by all groups but the first."""
    for group in harbour.groups[1:]:
        for _ in range(boats):
            group.surveyed(level, **particulars)


def dearer(harbour: Harbour, ratio: float = 2.0, boats: int = 2) -> None:
    for group in harbour.groups[1:]:
        for _ in range(boats):
            boat = group.boat()
            group.billed(boat, ratio * estimate(harbour, boat))


def expected(group: Buyers, boat: Candidate, code: str = CODE) -> float:
    """The mean level under ordinary care before anybody looked."""
    inputs = read_inputs(group.yard.list.pk)
    arrays = list_arrays(inputs, inputs.pooled)
    i = [one.id for one in inputs.boats].index(boat.pk)
    j = [one.code for one in arrays.checkpoints].index(code)
    return float(expected_levels(arrays.fleet, arrays.priors)[i, 1, j])


def read(group: Buyers, boat: Candidate, what: str) -> dict:
    group.recompute()
    answer = group.organiser.get(f"/candidates/{boat.pk}/{what}").json()
    assert answer["fresh"]
    return answer[what]


# --- Levels --------------------------------------------------------------------------------------


def test_surveys_move_what_is_expected(harbour, tern):
    boat = tern.boat()
    before = expected(tern, boat)
    others = expected(tern, boat, "engine-oil")
    worse(harbour)
    harbour.experience()
    after = expected(tern, boat)
    assert before < after < 4
    assert expected(tern, boat, "engine-oil") == others
    assert outcomes_for(tern.group.pk, catalogue_snapshot()).groups == 4
    worse(harbour, boats=8)
    harbour.experience()
    assert expected(tern, boat) > after


def test_boats_of_the_kind_that_was_found_bad_move_most(harbour, tern):
    full, fin = tern.boat(keel="full"), tern.boat(keel="bolted_fin")
    assert expected(tern, full) == expected(tern, fin)
    worse(harbour, keel="full", level=4)
    worse(harbour, keel="bolted_fin", level=1)
    harbour.experience()
    assert expected(tern, full) > expected(tern, fin) + 0.2


def test_the_answers_say_so(harbour, tern):
    boat = tern.boat()
    assert read(tern, boat, "consensus")["club_outcomes"] is None
    worse(harbour)
    dearer(harbour)
    harbour.experience()
    disclosed = read(tern, boat, "consensus")["club_outcomes"]
    assert (disclosed["checkpoints"], disclosed["remedies"]) == ([CODE], [REMEDY])
    assert (disclosed["groups"], disclosed["boats"]) == (4, 8)
    board = tern.organiser.get(f"/lists/{tern.yard.list.pk}/board").json()
    assert board["club_outcomes"] == disclosed
    assert any("8 boats of 4 other groups" in sentence for sentence in board["sentences"])


def test_its_own_boats_are_not_in_it(harbour, tern):
    worse(harbour)
    harbour.experience()
    before = tern.club_outcomes
    for _ in range(20):
        tern.surveyed(0)
    for group in harbour.groups[1:4]:  # so that the figures are told anew
        group.surveyed(4)
    harbour.experience()
    after = tern.club_outcomes
    assert after.shifts[CODE]["boats"] == 11 > before.shifts[CODE]["boats"]
    assert sum(row[2] for row in after.shifts[CODE]["by_kind"]) > 0
    # The other groups get figures that include Tern's sound boats.
    assert harbour.groups[1].club_outcomes.shifts[CODE]["boats"] == 20 + 2 * 3 + 2


def test_boats_of_a_group_with_a_person_in_common_are_as_its_own(harbour, tern):
    worse(harbour)
    harbour.groups[0].surveyed(4)
    other = harbour.groups[1]
    tern.group.memberships.create(person=other.organiser.person, role="helper", buys=False)
    harbour.experience()
    assert (tern.club_outcomes.groups, tern.club_outcomes.boats) == (3, 6)


def test_only_who_shares_is_given_anything(harbour, tern):
    boat = tern.boat()
    Group.objects.filter(pk=tern.group.pk).update(shares_surveys=False)
    before = expected(tern, boat)
    worse(harbour)
    harbour.experience()
    assert tern.club_outcomes is None
    assert expected(tern, boat) == before


def test_what_is_there_against_the_groups_will_is_not_used(harbour, tern):
    boat = tern.boat()
    before = expected(tern, boat)
    worse(harbour)
    harbour.experience()
    Group.objects.filter(pk=tern.group.pk).update(shares_surveys=False)
    assert expected(tern, boat) == before


def test_who_stops_sharing_has_lists_out_of_date_and_nothing_given(harbour, tern):
    boat = tern.boat()
    before = expected(tern, boat)
    worse(harbour)
    harbour.experience()
    tern.recompute()
    tern.shares(False)
    answer = tern.organiser.get(f"/candidates/{boat.pk}/consensus").json()
    assert answer["fresh"] is False
    assert expected(tern, boat) == before


def test_another_edition_of_the_catalogue_waits_for_the_next_turn(harbour, tern):
    boat = tern.boat()
    before = expected(tern, boat)
    worse(harbour)
    harbour.experience()
    GroupOutcomes.objects.update(edition=999)
    assert expected(tern, boat) == before


def test_lists_are_out_of_date_only_when_it_moved(harbour, tern):
    worse(harbour, boats=40, level=2)
    harbour.experience()
    tern.recompute()
    revision = tern.yard.list.inputs_revision
    computed_at = tern.club_outcomes.computed_at
    for group in harbour.groups[1:]:
        group.surveyed(2)
    assert harbour.experience().disclosed == 1
    tern.yard.list.refresh_from_db()
    assert (tern.yard.list.inputs_revision, tern.club_outcomes.computed_at) == (
        revision,
        computed_at,
    )


# --- Beside the pool of findings -----------------------------------------------------------------


def test_nothing_counts_twice_where_both_are_on(harbour, tern):
    """A survey is a finding too: where surveys move a checkpoint, pooled findings do not."""
    boat = tern.boat()
    worse(harbour)
    for group in harbour.groups[1:]:
        group.surveyed(3, code="engine-oil")
    harbour.experience()
    surveys_alone = expected(tern, boat)
    Group.objects.filter(club=harbour.club).update(pools_with_club=True)
    call_command("pool_clubs", stdout=io.StringIO())
    pool = GroupPool.objects.get(pk=tern.group.pk)
    assert pool.mu[CODE] > catalogue_snapshot().catalogue.checkpoints[CODE].belief.mu
    assert expected(tern, boat) == pytest.approx(surveys_alone)
    # A group that pools but does not share has the pool's figure.
    Group.objects.filter(pk=tern.group.pk).update(shares_surveys=False)
    belief = catalogue_snapshot().catalogue.checkpoints[CODE].belief
    wear = belief.age * (effective_age(30) - 30) / 10  # mu is at 30 years of wear
    assert expected(tern, boat) == pytest.approx(pool.mu[CODE] + wear, abs=0.05)


def test_a_club_is_pooled_without_its_outcomes(harbour):
    worse(harbour)
    harbour.experience()
    Group.objects.filter(club=harbour.club).update(pools_with_club=True)
    assert pools.club_read(harbour.club.pk).arrays.fleet.shift is None


# --- Prices --------------------------------------------------------------------------------------


def remedy(group: Buyers, boat: Candidate, code: str = REMEDY) -> dict:
    remedies = read(group, boat, "rollup")["remedies"]
    return next(one for one in remedies if one["remedy"] == code)


@pytest.fixture
def leaking(tern) -> Candidate:
    """A boat of Tern's that needs the remedy."""
    boat = tern.boat()
    needing = [
        checkpoint.code
        for checkpoint in catalogue_snapshot().catalogue.checkpoints.values()
        for trigger in checkpoint.remedies
        if trigger.code == REMEDY
    ]
    tern.looked(boat, {needing[0]: 4})
    return boat


def test_bills_move_the_price(harbour, tern, leaking):
    before = remedy(tern, leaking)
    assert before["club_outcomes"] is None
    dearer(harbour)
    harbour.experience()
    after = remedy(tern, leaking)
    disclosed = after["club_outcomes"]
    assert (disclosed["groups"], disclosed["boats"]) == (4, 8)
    assert 1 < disclosed["factor"] < 2
    ratio = float(after["price"]["amount"]) / float(before["price"]["amount"])
    assert ratio == pytest.approx(disclosed["factor"], rel=0.01)


def test_a_quote_stands_whatever_bills_came_to(harbour, tern, leaking):
    tern.organiser.post(
        f"/candidates/{leaking.pk}/quotes",
        {
            "remedy": REMEDY,
            "price": {"amount": "1234.00", "currency": "USD"},
            "firmness": "fixed",
            "from_whom": "The yard",
            "dated_on": "2025-03-20",
        },
    )
    dearer(harbour)
    harbour.experience()
    quoted = remedy(tern, leaking)
    assert (quoted["club_outcomes"], quoted["price"]["amount"]) == (None, "1234.00")


def test_no_worse_level_comes_out_cheaper(harbour, tern):
    """Bills at a third of the estimate for the worst level's remedy do not reverse the order."""
    catalogue = catalogue_snapshot().catalogue
    triggers = triggers_of(catalogue)
    price = reference_prices(catalogue).mean
    dearer(harbour, ratio=0.05, boats=6)
    harbour.experience()
    medians = np.ones(len(price))
    for code, factor in tern.club_outcomes.factors.items():
        medians[list(catalogue.remedies).index(code)] = factor["median"]
    assert medians.min() < 1
    before, after = triggers.by_level(price), triggers.by_level(price * medians)
    fell = np.diff(after, axis=1) < np.minimum(np.diff(before, axis=1), 0)
    slack = 1e-3 * before.max(axis=1, keepdims=True)
    assert not (fell & (np.diff(after, axis=1) < -slack)).any()


def test_three_other_groups_at_least_are_behind_it(harbour, tern):
    for group in harbour.groups[1:3]:
        for _ in range(9):
            group.surveyed(4)
    harbour.groups[0].surveyed(4)
    harbour.experience()
    assert GroupOutcomes.objects.count() == 0
    harbour.groups[3].surveyed(4)
    harbour.experience()
    assert min(GroupOutcomes.objects.values_list("groups", flat=True)) == 3
