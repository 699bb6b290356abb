"""What is usually handed over, from fixtures/ownership/handover.toml."""

import tomllib
from dataclasses import dataclass
from functools import cache

from django.conf import settings

HANDOVER_CAUTION = (
    "Count and try everything before the last of the money moves, and write down what is missing. "
    "Ashore mind ladders and stands, afloat try no seacock by force; have gas, shore power and "
    "raft looked at by those who are licensed for them before anybody sleeps or sails on board."
)


@dataclass(frozen=True)
class UsualItem:
    code: str
    kind: str
    what: str


@cache
def usual_items() -> dict[str, UsualItem]:
    path = settings.BASE_DIR / "fixtures" / "ownership" / "handover.toml"
    return {one["code"]: UsualItem(**one) for one in tomllib.loads(path.read_text())["item"]}
