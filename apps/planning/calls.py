"""Calls: one party at one site once, within one span of its hours.

Plans are made of calls, not of single looks: at a call any boats there may be looked at one after
the other. That loses nothing, if a site may be called at again where that can pay (`most_calls`).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from apps.planning.problem import Problem, Span


@dataclass(frozen=True)
class Call:
    """A party at a site once, within a span; `boats` are those it may look at there."""

    party: int
    site: int
    span: Span
    boats: tuple[int, ...]
    nth: int = 0
    fixed: bool = False

    def again(self, other: "Call") -> bool:
        """Whether the other is another call within the same span: then never right after it."""
        return (self.site, self.span, self.fixed) == (other.site, other.span, other.fixed)


def calls_of(problem: Problem, party: int, hopeful: Sequence[int]) -> list[Call]:
    """All calls that a day of this party can need."""
    calls = [
        Call(party, boat.site, (at, at + boat.minutes), (number,), fixed=True)
        for number in hopeful
        if (boat := problem.boats[number]).fixed is not None
        for by, at in [boat.fixed]
        if by == party
    ]
    spans = {
        (site, span): boats
        for site in range(len(problem.sites))
        if (boats := _open_to(problem, party, site, hopeful))
        for span in _reachable(problem, party, site)
        if any(problem.boats[n].minutes <= span[1] - span[0] for n in boats)
    }
    others = [*((call.site, call.span) for call in calls), *spans]
    for (site, span), boats in spans.items():
        fitting = tuple(n for n in boats if problem.boats[n].minutes <= span[1] - span[0])
        most = min(most_calls(site, span, others), len(fitting))
        calls += [Call(party, site, span, fitting, nth) for nth in range(most)]
    return calls


def _open_to(problem: Problem, party: int, site: int, hopeful: Sequence[int]) -> list[int]:
    return [
        n
        for n in hopeful
        if (boat := problem.boats[n]).site == site and party in boat.by and boat.fixed is None
    ]


def _reachable(problem: Problem, party: int, site: int) -> list[Span]:
    """The spans of a site, cut to when the party can be there."""
    who, place = problem.parties[party], problem.place(site)
    soonest = who.leaves + problem.minutes[problem.origin(party)][place]
    latest = who.back - problem.minutes[place][problem.home(party)]
    cut = [
        (max(opens, soonest), min(closes, latest)) for opens, closes in problem.sites[site].spans
    ]
    return [(opens, closes) for opens, closes in cut if opens < closes]


def most_calls(site: int, span: Span, others: Sequence[tuple[int, Span]]) -> int:
    """How often a party may have to call at a site within one span of its hours.

    To come back pays only if something else must be done in between: not before, for it is not open
    yet, and not after, for it is not open any more. For otherwise, by the triangle inequality, all
    looks here could be made in one go before or after it. So there are no more calls than one and
    one for each other span that opens within this one; and no more than one and one for each that
    closes within it.
    """
    opens, closes = span
    besides = [other for where, other in others if (where, other) != (site, span)]
    opening = sum(opens < start < closes for start, _ in besides)
    closing = sum(opens < end < closes for _, end in besides)
    return 1 + min(opening, closing)
