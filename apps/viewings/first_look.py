"""Chooses the checks to make when there is little time.

The most valuable checks come first, as far as their values are known and visible to the reader. The
remaining time is filled by priority, and within a priority by weight per minute. The first checks
at the hatch are always included: nobody goes below before smelling for gas there.
"""

from collections.abc import Iterable, Mapping, Sequence

from apps.catalogue.applicability import PossibleCheck

FIRST = 1  # checks of this priority at the hatch are never left out


def picked(
    checks: Sequence[PossibleCheck], minutes: int, values: Mapping[str, float]
) -> frozenset[str]:
    """Codes of the checks that fit into so many minutes; `valuations` by code, in one currency."""
    first = [one for one in checks if one.checkpoint.place == "hatch" and _priority(one) == FIRST]
    taken = list(_fitting(first, minutes))
    left = minutes - _minutes(taken)
    valued = [one for one in _others(checks, taken) if values.get(one.checkpoint.code, 0) > 0]
    taken += most_valuable(valued, left, values)
    left = minutes - _minutes(taken)
    by_priority = sorted(_others(checks, taken), key=_order)
    taken += _fitting(by_priority, left)
    return frozenset(one.checkpoint.code for one in taken)


def most_valuable(
    checks: Sequence[PossibleCheck], minutes: int, values: Mapping[str, float]
) -> list[PossibleCheck]:
    """The checks with the highest total value in so many minutes: exact, by dynamic programming.

    best[t]: the highest value in t minutes; kept[n][t]: whether it uses the n-th check.
    """
    best = [0.0] * (minutes + 1)
    kept = []
    for one in checks:
        takes, value = one.checkpoint.minutes, values[one.checkpoint.code]
        better = [
            time >= takes and best[time - takes] + value > best[time] for time in range(minutes + 1)
        ]
        best = [
            best[time - takes] + value if taken else best[time] for time, taken in enumerate(better)
        ]
        kept.append(better)
    found, time = [], minutes
    for one, better in zip(reversed(checks), reversed(kept), strict=True):
        if better[time]:
            found.append(one)
            time -= one.checkpoint.minutes
    return found


def _fitting(checks: Iterable[PossibleCheck], minutes: int) -> Iterable[PossibleCheck]:
    """Each check, in this order, that still fits."""
    for one in checks:
        if one.checkpoint.minutes <= minutes:
            minutes -= one.checkpoint.minutes
            yield one


def _others(checks: Iterable[PossibleCheck], taken: Iterable[PossibleCheck]) -> list[PossibleCheck]:
    codes = {one.checkpoint.code for one in taken}
    return [one for one in checks if one.checkpoint.code not in codes]


def _order(one: PossibleCheck) -> tuple[int, float]:
    return _priority(one), -one.checkpoint.weight / one.checkpoint.minutes


def _priority(one: PossibleCheck) -> int:
    return one.checkpoint.priority


def _minutes(checks: Iterable[PossibleCheck]) -> int:
    return sum(one.checkpoint.minutes for one in checks)
