"""Expected work on a boat that nobody looked at, by age and length, compared with targets.

Run by name: python -m tests.bench.bench_ages [AGE]. Thousand USD of 2024. `wanted` is the project's
own estimate of what such boats need; `tests/catalogue/test_unseen_work.py` checks it. With an age
it also prints the parts of the work on a boat of 10 m and that age, by which the catalogue's
beliefs and probabilities were set.
"""

import os
import sys

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "server.settings")

import django

django.setup()

import numpy as np  # noqa: E402
from django.conf import settings  # noqa: E402

from apps.catalogue.reading import read_catalogue  # noqa: E402
from tests.bench.unseen import AGES, WANTED, Unseen  # noqa: E402


def main() -> None:
    unseen = Unseen(read_catalogue(settings.BASE_DIR / "fixtures" / "catalogue"))
    print("length  age   wanted   median   of it   10%     90%   90% over the median")
    for loa_m, wanted in WANTED.items():
        for age, likely in zip(AGES, wanted, strict=True):
            low, median, high = unseen.work_costs(age, loa_m, (0.1, 0.5, 0.9)) / 1000
            print(
                f"{loa_m:4.0f} m  {age:3d}  {likely:7.1f}  {median:7.1f}  {median / likely:6.2f}"
                f"  {low:6.1f}  {high:6.1f}  {high / median:6.2f}"
            )
    if len(sys.argv) > 1:
        works(unseen, float(sys.argv[1]))


def works(unseen: Unseen, age: float, most: int = 25) -> None:
    """The remedies that the dearest tenth of boats pay most for."""
    draws = unseen.draws(age, 10.0)
    cost = draws.remedy_price * draws.extent
    dearest = draws.work_cost >= np.quantile(draws.work_cost, 0.9)
    among_them = cost[:, dearest].mean(axis=1)
    print(f"\nat {age:g} years{'':18s}  on the dearest tenth  on average  share of boats")
    for k in np.argsort(-among_them)[:most]:
        print(
            f"{unseen.jobs.remedies[k].code:30s}  {among_them[k] / 1000:20.2f}"
            f"  {cost[k].mean() / 1000:10.2f}  {(cost[k] > 0).mean():14.3f}"
        )


if __name__ == "__main__":
    main()
