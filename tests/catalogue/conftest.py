"""A small test catalogue, in a folder that each test may change."""

from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.kept import kept

SMALL = {
    "checkpoints/keel.toml": """
area = "keel"
title = "Keel"
position = 20

[[checkpoint]]
code = "joint"
title = "Line where keel meets hull"
position = 10
place = "ground"
priority = 1
minutes = 2
look = "Follow the line all round."
ask = "When was the keel last off, and is there an invoice?"
tools = ["torch"]
levels = ["No line.", "A hairline.", "A gap.", "A gap that weeps.", "The keel shifts."]
concerns = ["structural", "flooding"]
weight = 4.5
walk_away_level = 4
cautions = ["stands"]
prevented_by = ["afloat", "fresh_paint"]
professional = "surveyor"
professional_from = 2
professional_only = false
belief = { mu = 1.0, age = 0.25, care = 0.4, sd = 0.8, ages_with = "boat", breakage = 0.05 }
applies = { keel = ["bolted_fin", "bolted_bulb"] }
measure = { name = "gap", unit = "mm", scale = "gap-mm" }
remedies = [
  { code = "reseal", probability = [0, 0.1, 0.8, 0.2, 0], extent = [0, 1, 1, 1, 0] },
  { code = "rebed", probability = [0, 0, 0.1, 0.8, 1], extent = [0, 0, 1, 1, 1] },
]
tags = ["weeps"]
source = "project's own estimate"

[[checkpoint]]
code = "iron"
title = "Rust on an iron keel"
position = 20
place = "ground"
priority = 2
minutes = 1
look = "Look at both sides."
levels = ["None.", "Spots.", "Patches.", "Scale.", "Metal lost."]
concerns = ["value"]
weight = 1
professional = ""
professional_from = 0
professional_only = false
belief = { mu = 1.0, age = 0.2, care = 0.8, sd = 0.9, ages_with = "boat" }
applies = { keel_ballast = ["iron"] }
source = "project's own estimate"
""",
    "checkpoints/sails.toml": """
area = "sails"
title = "Sails"
position = 10

[[checkpoint]]
code = "mainsail"
title = "Mainsail"
position = 1000
place = "deck"
priority = 2
minutes = 3
look = "Take it out of its bag."
levels = ["Crisp.", "Soft.", "Stitching fails.", "Tears.", "In rags."]
concerns = ["value"]
weight = 2
prevented_by = ["covered", "mast_down"]
professional = "sailmaker"
professional_from = 3
professional_only = false
belief = { mu = 1.2, age = 0.3, care = 0.4, sd = 0.9, ages_with = "sails" }
remedies = [
  { code = "new-main", probability = [0, 0, 0.3, 1, 1], extent = [0, 0, 1, 1, 1] },
]
source = "project's own estimate"
""",
    "questions.toml": """
[[question]]
code = "boarding"
ask = "May we come aboard?"
why = "Many yards let nobody on a boat."
""",
    "remedies.toml": """
base_year = 2024
currency = "USD"
reference_loa_m = 10
yard_rate = [95, 120, 150]

[[remedy]]
code = "reseal"
title = "Reseal the joint"
area = "keel"
hours = [6, 12, 24]
parts = [100, 200, 400]
scale = { by = "loa", exponent = 1 }
enabling = ["lift-out"]
own_work = true
own_hours_factor = 2.5
urgency = "now"
confidence = "rough"
source = "project's own estimate"

[[remedy]]
code = "rebed"
title = "Drop and rebed the keel"
area = "keel"
hours = [30, 50, 90]
parts = [700, 1400, 3000]
scale = { by = "loa", exponent = 1.5 }
enabling = ["lift-out"]
own_work = false
urgency = "now"
confidence = "rough"
source = "project's own estimate"

[[remedy]]
code = "new-main"
title = "New mainsail"
area = "sails"
hours = [0, 0, 0]
parts = [2250, 3270, 5030.50]
scale = { by = "none" }
count = "sail"
enabling = []
own_work = false
urgency = "later"
confidence = "fair"
source = "common practice, no source"
""",
    "enabling.toml": """
[[enabling]]
code = "lift-out"
title = "Lift out"
hours = [0, 0, 0]
parts = [360, 460, 720]
scale = { by = "loa", exponent = 1 }
confidence = "fair"
source = "common practice, no source"
""",
    "cautions.toml": """
[[caution]]
code = "stands"
title = "Stands"
text = "Never touch a stand."
defer_to = "the yard"
""",
    "scales.toml": """
[[scale]]
code = "gap-mm"
title = "Gap"
unit = "mm"
range = [0, 100]
breaks = [0.2, 1, 2, 5]
source = "project's own estimate"
""",
    "purchase.toml": """
[[fee]]
code = "survey"
title = "Survey"
low = 66
likely = 85
high = 115
per = "m"
source = "common practice, no source"
""",
    "running.toml": """
[[running]]
code = "insurance"
title = "Insurance"
low = 0.01
likely = 0.015
high = 0.02
per = "value"
source = "common practice, no source"
""",
    "price_index.toml": """
code = "cpi-u"
title = "Consumer prices"
source = "published: US Bureau of Labor Statistics"
[annual]
2010 = 218.056
2024 = 313.689
""",
}


@dataclass
class Files:
    folder: Path

    def change(self, name: str, old: str, new: str) -> None:
        """Replace the first `old` in a file; it must exist, or the test would test nothing."""
        text = (self.folder / name).read_text()
        assert old in text, f"{name} has no {old!r}"
        self.write(name, text.replace(old, new, 1))

    def write(self, name: str, text: str) -> None:
        (self.folder / name).write_text(text)

    def without_checkpoint(self, name: str, code: str) -> None:
        head, *entries = (self.folder / name).read_text().split("[[checkpoint]]")
        kept = [entry for entry in entries if f'code = "{code}"' not in entry]
        assert len(kept) == len(entries) - 1
        self.write(name, "[[checkpoint]]".join([head, *kept]))


@pytest.fixture
def files(tmp_path) -> Files:
    return small_files(tmp_path)


def small_files(folder: Path) -> Files:
    (folder / "checkpoints").mkdir()
    small = Files(folder)
    for name, text in SMALL.items():
        small.write(name, text)
    return small


@pytest.fixture
def small_catalogue(db, files) -> Files:
    """The loaded catalogue; read and checked once per run, later its rows are restored."""
    from apps.catalogue.services import catalogue_load

    kept("small catalogue", lambda: catalogue_load(folder=files.folder))
    return files


@pytest.fixture
def waters(cast, small_catalogue):
    from tests.catalogue.own import waters_made

    return waters_made(cast)
