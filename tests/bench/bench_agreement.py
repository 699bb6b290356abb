"""Krippendorff's alpha on 10,000 units by 20 raters against the reference library, in one run.

Run by name: python -m tests.bench.bench_agreement. Wanted: at least 5 times faster, same value to
1e-9. The physical bound is one pass over the ratings, which is measured too as a plain sum.
"""

import sys
import time
from functools import partial

import krippendorff
import numpy as np

from apps.reckoning.agreement import krippendorff_alpha

UNITS, RATERS, MISSING, REPEATS = 10_000, 20, 0.3, 31
WANTED_RATIO, WANTED_DIFFERENCE = 5.0, 1e-9


def ratings():
    """Levels 0 to 4 seen with a spread of 0.7, three in ten not seen."""
    draw = np.random.default_rng(2011)
    level = draw.integers(0, 5, UNITS)
    seen = np.clip(np.round(level + draw.normal(0, 0.7, (RATERS, UNITS))), 0, 4)
    seen[draw.random(seen.shape) < MISSING] = np.nan
    return seen


def median_seconds(call):
    """The median of many runs, after one that warms up."""
    call()
    runs = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        call()
        runs.append(time.perf_counter() - start)
    return float(np.median(runs))


def main():
    table = ratings()
    bound = median_seconds(table.sum)
    print(f"alpha, {UNITS:,} units x {RATERS} raters, {MISSING:.0%} missing, float64")
    print(
        f"bound: {table.nbytes / 1e6:.1f} MB read once {bound * 1e3:.3f} ms "
        f"({table.nbytes / bound / 1e9:.1f} GB/s)"
    )
    failed = False
    for metric in ("nominal", "ordinal", "interval", "ratio"):
        theirs = krippendorff.alpha(reliability_data=table, level_of_measurement=metric)
        difference = abs(krippendorff_alpha(table, metric).value - theirs)
        reference = median_seconds(
            partial(krippendorff.alpha, reliability_data=table, level_of_measurement=metric)
        )
        ours = median_seconds(partial(krippendorff_alpha, table, metric))
        ratio = reference / ours
        failed |= ratio < WANTED_RATIO or difference > WANTED_DIFFERENCE
        print(
            f"{metric:9} reference {reference * 1e3:6.2f} ms, ours {ours * 1e3:5.2f} ms: "
            f"{ratio:4.1f} times faster, {ours / bound:4.1f} times the bound, "
            f"difference {difference:.0e}"
        )
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
