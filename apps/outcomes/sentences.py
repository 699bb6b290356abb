"""Sentences about the statistics, for people."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from apps.common.wording import NOT_A_SURVEY, percent

Json = Mapping[str, Any]

OLDER_METHOD = (
    "These figures come from an earlier version of the method. They are computed again in the "
    "club's next round."
)
CAUTION = (
    f"{NOT_A_SURVEY} What was found on other boats is no finding on this one. These are sums over "
    "boats that somebody had surveyed, not over all boats. A professional must judge structure and "
    "safety on the boat herself."
)
MOST = 3  # sentences of each kind
# The smallest deviation from the estimate, up or down, that gets a sentence.
FAR = 0.10


def of_outcomes(checkpoints: Sequence[Json], remedies: Sequence[Json]) -> list[str]:
    """Sentences on the most frequent defects, what quick looks missed, and what costs more."""
    return [*_found(checkpoints), *_missed(checkpoints), *_cost(remedies)]


def behind(figure: Json) -> str:
    return f"{figure['boats']} boats of {figure['groups']} groups"


def interval(figure: Json) -> str:
    return f"{percent(figure['low'])} to {percent(figure['high'])}"


def found(figure: Json) -> str:
    found = (
        f"defective or worse on {percent(figure['figure'])} ({interval(figure)}) of "
        f"{behind(figure)}"
    )
    if figure["expected"] is None:
        return found
    return f"{found}; the catalogue expects {percent(figure['expected'])}"


def cost(figure: Json) -> str:
    return (
        f"{figure['figure']:.2f} times the estimate ({figure['low']:.2f} to {figure['high']:.2f}), "
        f"from bills on {behind(figure)}"
    )


def _found(checkpoints: Sequence[Json]) -> Iterator[str]:
    there = [one for one in checkpoints if one["found"] and one["found"]["figure"] > 0]
    for one in sorted(there, key=lambda one: -one["found"]["figure"])[:MOST]:
        yield f"{one['title']}: {found(one['found'])}."


def _missed(checkpoints: Sequence[Json]) -> Iterator[str]:
    there = [one for one in checkpoints if one["caught"]]
    for one in sorted(there, key=lambda one: one["caught"]["figure"])[:MOST]:
        figure = one["caught"]
        yield (
            f"{one['title']}: where a survey found it defective or worse, a quick look had seen it "
            f"on {percent(figure['figure'])} ({interval(figure)}) of {behind(figure)}."
        )


def _cost(remedies: Sequence[Json]) -> Iterator[str]:
    there = [one for one in remedies if one["cost"] and abs(one["cost"]["figure"] - 1) >= FAR]
    for one in sorted(there, key=lambda one: -abs(one["cost"]["figure"] - 1))[:MOST]:
        yield f"{one['title']}: {cost(one['cost'])}."
