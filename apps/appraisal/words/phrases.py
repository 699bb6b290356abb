"""Parts of sentences: amounts, levels, wants, and the professional who must judge."""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from apps.appraisal.stored.parts import (
    Amount,
    MustBroken,
    Range,
    StoredToBeJudged,
    StoredWanted,
)
from apps.appraisal.stored.standing import (
    StoredRow,
    WantMet,
)
from apps.boats.quantities import IMPERIAL
from apps.common import wording
from apps.common.units import Units, units_shown

LEVELS = ("sound", "serviceable", "tired", "defective", "failed")


SOMEBODY = "somebody"


@dataclass(frozen=True)
class Names:
    """Names, and why boats were struck off, by id as text."""

    people: Mapping[str, str] = field(default_factory=dict)
    boats: Mapping[str, str] = field(default_factory=dict)
    stage_reasons: Mapping[str, str] = field(default_factory=dict)

    def person(self, person_id: str | None) -> str:
        return self.people.get(person_id or "", SOMEBODY)

    def boat(self, candidate_id: str) -> str:
        return self.boats.get(candidate_id, "a boat no longer on the list")

    def stage_reason(self, candidate_id: str) -> str:
        return self.stage_reasons.get(candidate_id, "")


def money(figure: Amount) -> str:
    return wording.money(float(figure["amount"]), figure["currency"])


def about(figure: Amount) -> str:
    """'41,300 USD': a computed sum, rounded to what its precision supports.

    Three figures from 10,000 on, two below. `money` is for amounts that people entered.
    """
    return about_amount(float(figure["amount"]), figure["currency"])


def about_amount(amount: float, currency: str) -> str:
    return wording.money(rounded(amount), currency)


def at_most(figure: Amount) -> str:
    """As `about`, but never more: a limit that was rounded up would not hold."""
    return wording.money(rounded(float(figure["amount"]), math.floor), figure["currency"])


def at_least_money(figure: Amount) -> str:
    return wording.money(rounded(float(figure["amount"]), math.ceil), figure["currency"])


def rounded(amount: float, to: Callable[[float], int] = round) -> float:
    """The amount rounded as `about` shows it."""
    if amount == 0:
        return amount
    digits = 3 if abs(amount) >= 10_000 else 2
    step = 10.0 ** (math.floor(math.log10(abs(amount))) + 1 - digits)
    return to(amount / step) * step


def before_buying(one: StoredToBeJudged) -> str:
    """Advice after one grave look: look again together, and have it judged before buying."""
    found = f"{wording.lead(one['title'])} {seen_how(one)}"
    if one["judged"]:
        who = article(one["judged_by"])
        return f"{found}. It was judged by {who}: know what putting it right costs before you buy."
    return (
        f"{found}. Look again side by side, and do not buy her before "
        f"{article(one['judged_by'])} has judged it."
    )


def seen_how(one: StoredToBeJudged) -> str:
    """'one person saw it as failed, two others did not'."""
    people = "person" if one["seen_by"] == 1 else "people"
    saw = f"{counted(one['seen_by'])} {people} saw it as {LEVELS[one['level']]}"
    match one["seen_otherwise"]:
        case 0:
            return f"{saw}, nobody else has looked"
        case 1:
            return f"{saw}, another did not"
        case others:
            return f"{saw}, {counted(others)} others did not"


COUNTED = ("no", "one", "two", "three", "four", "five", "six")


def counted(number: int) -> str:
    return COUNTED[number] if number < len(COUNTED) else str(number)


def at_least(level: int) -> str:
    """'defective or worse'; nothing is worse than failed."""
    return LEVELS[level] if level == len(LEVELS) - 1 else f"{LEVELS[level]} or worse"


def to_judge(professional: str) -> str:
    return f"; {article(professional)} must judge it" if professional else ""


def article(word: str) -> str:
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"


def want(one: StoredWanted | MustBroken) -> str:
    """'draught at most 1.6 m'."""
    if one["text"]:
        return f'"{one["text"]}"'
    name = words_of(one["key"])
    if one["test"] == "one_of":
        wanted = one["wanted"] if isinstance(one["wanted"], list) else [one["wanted"]]
        return f"{name} {' or '.join(str(word).replace('_', ' ') for word in wanted)}"
    limit = {"at_most": "at most", "at_least": "at least"}[one["test"]]
    return f"{name} {limit} {figure(one['key'], one['wanted'])}"


def wanted(one: WantMet, names: Names) -> str:
    """Whose want it is, and whether she meets it."""
    met = {True: "met", False: "not met", None: "not known yet"}[one["met"]]
    return f"{names.person(one['person_id'])} wants {want(one)}: {met}."


def broken(one: MustBroken) -> str:
    if one["subject"] == "free":
        return "this one was judged not to be"
    if one["test"] == "one_of":
        return "this one has not"
    return f"this one has {figure(one['key'], one['is'])}"


UNITS = {
    **{"_m": " m", "_kg": " kg", "_m2": " m²", "_kn": " kn"},
    **{"_ft": " ft", "_lb": " lb", "_sqft": " sq ft"},
}


SHORT = {"loa": "length overall", "lwl": "waterline length"}


def words_of(key: str) -> str:
    """'displacement_kg' and 'keel-joint-line' as people say them."""
    for ending in UNITS:
        key = key.removesuffix(ending)
    return SHORT.get(key, key.replace("_", " ").replace("-", " "))


def figure(key: str, value: Any) -> str:
    """A stored figure with its unit: '1.6 m', or '5.25 ft' for a reader of feet."""
    if not isinstance(value, int | float):
        return f"{value}{unit_of(key)}"
    shown = IMPERIAL.get(key) if units_shown() is Units.IMPERIAL else None
    if shown is None:
        return f"{value:g}{unit_of(key)}"
    size = shown.from_si(value)  # a hundredth of a foot is 3 mm
    return f"{round(size, 2) if size < 100 else round(size):g}{unit_of(shown.name)}"


def unit_of(key: str) -> str:
    return next((unit for ending, unit in UNITS.items() if key.endswith(ending)), "")


def listed(words: Iterable[str]) -> str:
    """'a, b and c'."""
    *others, last = words
    return f"{', '.join(others)} and {last}" if others else last


def amount(cost: Range, which: Literal["low", "likely", "high", "mean"]) -> str:
    return about_amount(float(cost[which]), cost["currency"])


LEVEL = (
    "Boats that share a place are level: their difference is within the error of the simulation."
)


def level(rows: Iterable[StoredRow]) -> list[str]:
    """A sentence for boats that share a place, if there are any."""
    taken = [row["place"] for row in rows]
    return [LEVEL] if len(set(taken)) < len(taken) else []
