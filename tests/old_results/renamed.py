"""The names in method 3's stored values, and their present names.

A database with the old names is refused, so none has to be read.
"""

from typing import Any

KEYS = {
    "pot": "budget",
    "within_pot": "within_budget",
    "worth": "valuation",
    "worth_missing": "valuation_missing",
    "worth_it": "pays_now",
    "inspectors": "raters",
    "memory": "club_outcomes",
}
KEYS_OF_LOOKS = KEYS | {"worth": "value"}
CODES = {
    "over_pot": "over_budget",
    "worths": "valuations",
    "worth_missing": "valuation_missing",
    "worth_hidden": "valuation_hidden",
}
NAMING = ("code", "why", "source")  # keys of codes


def under_new_names(stored: Any, kind: str) -> Any:
    return _renamed(stored, KEYS_OF_LOOKS if kind in ("next_looks", "cost_looks") else KEYS)


def _renamed(value: Any, keys: dict[str, str]) -> Any:
    if isinstance(value, list):
        return [_renamed(one, keys) for one in value]
    if not isinstance(value, dict):
        return value
    return {
        keys.get(key, key): CODES.get(one, one)
        if key in NAMING and isinstance(one, str)
        else _renamed(one, keys)
        for key, one in value.items()
    }
