"""The work that a boat may need which nobody looked at: by age and length, against what is wanted.

Run by name: python -m tests.bench.bench_ages. Thousand USD of 2024. `wanted` is the project's own
estimate of what such boats need; `tests/catalogue/test_unseen_work.py` holds the catalogue to it.
"""

import os

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "server.settings")

import django

django.setup()

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


if __name__ == "__main__":
    main()
