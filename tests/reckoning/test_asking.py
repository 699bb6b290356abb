"""What the seller could be asked."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from apps.reckoning.asking import asks_of
from apps.reckoning.costs import Purchase, expected_costs, simulate
from apps.reckoning.offering import AtPrice
from tests.reckoning.cost_cases import CARE, certain, fixed, work
from tests.reckoning.test_offering import BUDGET, Boat

seeds = st.integers(0, 2**32 - 1)
NONE_OF_4 = np.zeros(4, dtype=bool)


class TestAsks:
    """Remedies: 0 safety now 1,000; 1 later 400; 2 now 600; 3 now, of what nobody saw, 900.

    0 and 2 share a lift of 300; 1 needs another of 50.
    """

    always = [1.0] * 5
    job = work(
        fixed(1_000, 400, 600, 900),
        fixed(300, 50),
        [(0, 0, always, 1), (1, 1, always, 1), (2, 2, always, 1), (3, 3, always, 1)],
        needs=[(0, 0), (2, 0), (1, 1)],
        now=[0, 2, 3],
    )
    purchase = Purchase(asking=10_000)
    seen = np.array([True, True, True, False])
    guarded = np.array([True, False, False, True])

    def asks(self, budget, **changed):
        level = certain(2, 2, 2, 2)
        draws = simulate(CARE, level, self.job, self.purchase, seed=1)
        expected = expected_costs(CARE, level, self.job, self.purchase)
        at_price = AtPrice.of(draws, self.purchase, expected)
        options = {"seen": self.seen, "guarded": self.guarded, "stated": NONE_OF_4, **changed}
        return asks_of(at_price, 10_000, draws, self.job, budget, **options)

    def test_safety_first_then_what_cannot_wait(self):
        found = self.asks(12_000)
        assert [one.remedy for one in found.items] == [0, 2, 1]
        # A shared lift is saved by neither alone, but by both together.
        assert [one.amount for one in found.items] == pytest.approx([1_000, 600, 450])
        assert found.amount == pytest.approx(1_000 + 600 + 300 + 450)

    def test_what_each_does_to_the_chance(self):
        """Up front: 10,000 + 1,000 + 600 + 900 + 300 = 12,800."""
        found = self.asks(12_000)
        assert found.within == 0
        assert [one.if_put_right for one in found.items] == [1, 0, 0]
        assert [one.if_taken_off for one in found.items] == [1, 0, 0]
        assert (found.if_put_right, found.if_taken_off) == (1, 1)

    def test_money_off_helps_where_the_work_could_have_waited(self):
        found = self.asks(12_400)
        later = found.items[2]
        assert (later.now, later.if_put_right, later.if_taken_off) == (False, 0, 1)

    def test_what_nobody_saw_is_no_argument(self):
        found = self.asks(12_000, seen=NONE_OF_4)
        assert found.items == ()
        assert (found.amount, found.if_put_right) == (0, found.within)

    def test_what_a_professional_says_is_needed_is_asked_about(self):
        """3 is of a guarded checkpoint that nobody looked at."""
        stated = np.array([False, False, False, True])
        found = self.asks(12_000, stated=stated)
        assert [(one.remedy, one.safety) for one in found.items[:2]] == [(0, True), (3, True)]
        assert self.asks(12_000, stated=stated, count=0).items == (found.items[1],)

    @pytest.mark.parametrize("name", ["seen", "guarded", "stated"])
    def test_another_length_is_refused(self, name):
        with pytest.raises(ValueError, match=name):
            self.asks(12_000, **{name: np.ones(3, dtype=bool)})

    @settings(max_examples=20, deadline=None)
    @given(seeds)
    def test_asking_never_lowers_the_chance(self, seed):
        boat = Boat(seed)
        everywhere = np.ones(6, dtype=bool)
        found = asks_of(
            boat.at_price, boat.purchase.asking, boat.draws, boat.work, BUDGET,
            seen=everywhere, guarded=everywhere, stated=np.zeros(len(boat.work.remedies), bool),
        )  # fmt: skip
        for one in (*found.items, found):
            assert one.if_put_right >= found.within
            assert one.if_taken_off >= found.within
        assert found.amount >= max((one.amount * one.needed for one in found.items), default=0) - 1
