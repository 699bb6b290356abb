"""How often 80% intervals hold the truth: levels, condition, all-in cost, leans and spreads.

Run by name: python -m tests.bench.bench_coverage [lists]. Lists are drawn from the model, and from
what the model does not know: two kinds of care on one boat, heavy tails, leans that differ from
area to area. Wanted at nominal .80: .76 to .84 on the model's, at least .70 on the others. Each
share has its standard error; the second line is for a fit that treats the raters as known.
"""

import sys

import numpy as np

from apps.reckoning.belief import fit
from apps.reckoning.mixture import fit_mixed
from tests.bench.fleet import invented_case
from tests.reckoning.coverage import KINDS, Case, held

SEED = 11_2026
ASKED = ("levels", "condition", "all-in", "leans")
CASES = [
    Case("model", boats=4, graders=2, looked=0.5),
    Case("model", boats=4, graders=2, looked=0.9),
    Case("model", boats=4, graders=1, looked=0.5),
    Case("model", boats=8, graders=3, looked=0.3),
    *(Case(kind, boats=4, graders=2, looked=0.5) for kind in KINDS[1:]),
]


def main(lists: int) -> int:
    invented, missed = invented_case(), 0
    for case in CASES:
        print(f"{case.kind}: {case.graders} look at {case.looked:.0%} of {case.boats} boats")
        for name, fitted in (("mixed", fit_mixed), ("graders as known", fit)):
            shares = held(
                case, invented.priors, invented.work, lists=lists, seed=SEED, fitted=fitted
            )
            told = [
                f"{what} {share.mean():.3f} +- {share.std() / np.sqrt(lists):.3f}"
                for what, share in shares.items()
            ]
            print(f"  {name:16} " + ", ".join(told))
            if fitted is fit_mixed:
                low, high = (0.76, 0.84) if case.kind == "model" else (0.70, 1.0)
                missed += sum(not low <= shares[what].mean() <= high for what in ASKED)
    print(f"{missed} of {len(CASES) * len(ASKED)} outside of what is wanted")
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 400))
