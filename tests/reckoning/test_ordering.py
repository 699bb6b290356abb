"""Places beyond the noise."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy.stats import rankdata

from apps.reckoning.ordering import least_ranks, noise_of, places, shared_ranks

NAN = np.nan
NO_ERROR = np.zeros(3)


class TestPlaces:
    def test_equal_boats_share_a_place(self):
        """Four boats alike, whose draws fell a little differently."""
        figure = np.array([4_812.0, 4_655.0, 4_701.0, 4_790.0])
        assert places(figure, np.full(4, 60.0)).tolist() == [1, 1, 1, 1]

    def test_a_gap_counts_beyond_three_standard_errors(self):
        """Of 100 and 100 together 141.4: three are 424.3."""
        error = np.array([100.0, 100.0])
        assert places(np.array([1_000.0, 576.0]), error).tolist() == [1, 1]
        assert places(np.array([1_000.0, 575.0]), error).tolist() == [1, 2]
        assert noise_of(np.array([30.0]), 40.0).tolist() == [150.0]

    def test_less_than_a_unit_is_no_gap(self):
        assert places(np.array([5.0, 4.0, 3.9]), NO_ERROR).tolist() == [1, 1, 3]
        assert places(np.array([0.5, 0.4]), np.zeros(2), unit=0.0).tolist() == [1, 2]

    def test_nobody_drifts_down_a_chain_of_small_gaps(self):
        """Each is within the noise of the next, the last is not within that of the first."""
        figure, error = np.array([900.0, 600.0, 300.0, 0.0]), np.full(4, 100.0)
        assert places(figure, error).tolist() == [1, 1, 3, 3]

    def test_what_has_no_figure_has_no_place(self):
        found = places(np.array([NAN, 50.0, -np.inf, -np.inf, 90.0]), np.array([NAN] * 5))
        np.testing.assert_array_equal(found, [NAN, 2, 3, 3, 1])
        assert np.isnan(places(np.array([NAN]), np.array([NAN]))).all()
        assert places(np.empty(0), np.empty(0)).tolist() == []

    @given(st.data())
    def test_it_does_not_hang_on_the_order_in_which_they_are_given(self, data):
        count = data.draw(st.integers(1, 7))
        some = st.sampled_from([0.0, 1.0, 2.0, 40.0, 100.0, 101.0, 250.0, -np.inf, NAN])
        figure = data.draw(hnp.arrays(float, count, elements=some))
        error = data.draw(hnp.arrays(float, count, elements=st.sampled_from([0.0, 10.0, 33.0])))
        to = np.array(data.draw(st.permutations(range(count))))
        np.testing.assert_array_equal(places(figure[to], error[to]), places(figure, error)[to])

    @given(st.data())
    def test_better_is_never_placed_lower_and_all_are_level_with_the_best_of_their_place(
        self, data
    ):
        count = data.draw(st.integers(1, 7))
        figure = data.draw(hnp.arrays(float, count, elements=st.floats(-500, 500)))
        error = data.draw(hnp.arrays(float, count, elements=st.floats(0, 60)))
        found = places(figure, error)
        assert found.min() == 1
        for i in range(count):
            assert np.all(found[figure >= figure[i]] <= found[i])
            assert (found < found[i]).sum() == found[i] - 1  # as many stand before it as it says
            shared = found == found[i]
            best = figure[shared].max()
            begun = error[shared & (figure == best)].min()
            assert best - figure[i] <= noise_of(np.array(begun), error[i]) + 1e-9


@given(hnp.arrays(float, st.integers(0, 9), elements=st.integers(-3, 3).map(float)))
def test_ranks_are_those_of_a_reference_library(values):
    assert shared_ranks(values).tolist() == rankdata(values).tolist()
    assert least_ranks(values).tolist() == rankdata(values, method="min").tolist()
